"""The columns of one breadcrumbs entry: checked and read as arrays, never value by value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ebbline.errors import InputError
from ebbline.exchange.fields import EARLIEST_MS, LATEST_MS
from ebbline.exchange.json_text import check_plain, join, shown
from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.evidence import Breadcrumbs

_LARGEST = 2.0**63  # any number, so long as it can be written again
LARGEST_SEQ = 2**53  # whole numbers a browser can count to


@dataclass(frozen=True, slots=True)
class Range:
    """What a column of numbers may hold: bounds included, and whether it must be there."""

    low: float = -_LARGEST
    high: float = _LARGEST
    required: bool = False
    nulls: bool = True


# Columns of numbers beside seq and t_ms, with what we take in each. Accuracy and speed are never
# negative and heading is within a turn (W3C Geolocation).
NUMBER_COLUMNS = {
    "lat": Range(-90, 90, required=True, nulls=False),
    "lon": Range(-180, 180, required=True, nulls=False),
    "accuracy_m": Range(low=0),
    "speed_mps": Range(low=0),
    "heading_deg": Range(0, 360),
    "altitude_m": Range(),
    "fix_ms": Range(),
    "wall_ms": Range(),
    "mono_ms": Range(),
}
TEXT_COLUMNS = ("page",)


def check_breadcrumbs(raw: object, where: str) -> None:
    """Check one breadcrumbs entry.

    Args:
        raw: the entry as parsed.
        where: its place, for example ``breadcrumbs[0]``.

    Raises:
        InputError: names the column and the row.
    """
    if not isinstance(raw, dict):
        raise InputError(where, "must be an object")
    _check_device(raw, where)
    seq = _whole_column(raw, "seq", where)
    _refuse_first(~((seq >= 0) & (seq <= LARGEST_SEQ)), raw, "seq", where, "is out of range")
    _refuse_first(
        np.diff(seq, prepend=-1) <= 0, raw, "seq", where, "is not above the one before it"
    )
    check_times(
        raw,
        where,
        "(after a clock was set back, a new breadcrumbs entry of the same device begins)",
    )
    _check_length(len(raw["t_ms"]), seq.size, where, "t_ms", "seq")
    check_numbers(raw, NUMBER_COLUMNS, where, "seq", seq.size)
    for column in TEXT_COLUMNS:
        if raw.get(column) is not None:
            count = len(_text_column(raw, column, where))
            _check_length(count, seq.size, where, column, "seq")
    checked = {"seq", "t_ms", *NUMBER_COLUMNS}
    check_plain({key: part for key, part in raw.items() if key not in checked}, where)


def to_breadcrumbs(raw: dict[str, Any]) -> Breadcrumbs:
    """The typed view of a checked entry; what is null or absent is NaN."""
    count = len(raw["seq"])

    return Breadcrumbs(
        device=raw["device"],
        seq=np.array(raw["seq"], dtype=np.int64),
        t_ms=np.array(raw["t_ms"], dtype=np.int64),
        lat=numbers_of(raw, "lat", count),
        lon=numbers_of(raw, "lon", count),
        accuracy_m=numbers_of(raw, "accuracy_m", count),
        speed_mps=numbers_of(raw, "speed_mps", count),
        heading_deg=numbers_of(raw, "heading_deg", count),
        altitude_m=numbers_of(raw, "altitude_m", count),
        page=np.array([name or "" for name in raw.get("page") or [""] * count], dtype=np.str_),
        mono_ms=numbers_of(raw, "mono_ms", count),
    )


def _check_device(raw: dict[str, Any], where: str) -> None:
    """Check the name of the device that recorded an entry of columns."""
    device = raw.get("device")
    if not isinstance(device, str) or not 1 <= len(device) <= 100:
        problem = "is missing" if device is None else f"is {shown(device)}; text is needed"
        raise InputError(join(where, "device"), problem)
    if "\x00" in device:
        raise InputError(join(where, "device"), f"is {shown(device)}; a NUL has no place in a name")


def check_times(raw: dict[str, Any], where: str, instead: str) -> int:
    """Check the column ``t_ms`` and tell its length; ``instead`` says what to do about times
    that run backwards.
    """
    t_ms = _whole_column(raw, "t_ms", where)
    _refuse_first(
        (t_ms < EARLIEST_MS) | (t_ms >= LATEST_MS), raw, "t_ms", where,
        "is not a time between the years 2000 and 2200 in milliseconds",
    )  # fmt: skip
    if t_ms.size:
        _refuse_first(
            np.diff(t_ms, prepend=t_ms[0]) < 0, raw, "t_ms", where,
            f"is earlier than the one before it {instead}",
        )  # fmt: skip
    return int(t_ms.size)


def check_numbers(
    raw: dict[str, Any], columns: dict[str, Range], where: str, leader: str, count: int
) -> None:
    """Check columns of numbers, each of ``count`` values as the column ``leader`` has."""
    for column, allowed in columns.items():
        if raw.get(column) is None and not allowed.required:
            continue
        values, known = _number_column(raw, column, where)
        _check_length(values.size, count, where, column, leader)
        if not allowed.nulls:
            _refuse_first(~known, raw, column, where, "is not known, but is needed")
        _refuse_first(known & ~np.isfinite(values), raw, column, where, "is not a finite number")
        outside = known & ((values < allowed.low) | (values > allowed.high))
        _refuse_first(outside, raw, column, where, _outside(allowed))


def numbers_of(raw: dict[str, Any], column: str, count: int) -> FloatArray:
    """A checked column as floats (count,), NaN where it is null or absent."""
    values = raw.get(column)
    if values is None:
        return np.full(count, np.nan)
    return np.array(values, dtype=np.float64)


def _column(raw: dict[str, Any], column: str, where: str) -> list[Any]:
    values = raw.get(column)
    if not isinstance(values, list):
        problem = "is missing" if values is None else f"is {shown(values)}; a list is needed"
        raise InputError(join(where, column), problem)
    return values


def _whole_column(raw: dict[str, Any], column: str, where: str) -> IntArray:
    values = _column(raw, column, where)
    _refuse_types(values, (int,), f"{join(where, column)}", "a whole number is needed")
    try:
        return np.array(values, dtype=np.int64)
    except OverflowError:
        row = next(i for i, value in enumerate(values) if not -(2**63) <= value < 2**63)
        place = f"{join(where, column)}[{row}]"
        raise InputError(place, f"is {shown(values[row])}, out of range") from None


def _number_column(raw: dict[str, Any], column: str, where: str) -> tuple[FloatArray, BoolArray]:
    """Values, NaN where null, and whether each was given."""
    values = _column(raw, column, where)
    place = join(where, column)
    _refuse_types(values, (int, float, type(None)), place, "a number is needed")
    try:
        numbers = np.array(values, dtype=np.float64)
    except OverflowError:
        row = next(i for i, value in enumerate(values) if _is_too_big(value))
        raise InputError(f"{place}[{row}]", f"is {shown(values[row])}, out of range") from None
    if None in values:
        known = np.array([value is not None for value in values], dtype=np.bool_)
    else:
        known = np.ones(numbers.size, dtype=np.bool_)
    return numbers, known


def _is_too_big(value: object) -> bool:
    return isinstance(value, int) and value.bit_length() > 64


def _text_column(raw: dict[str, Any], column: str, where: str) -> list[Any]:
    values = _column(raw, column, where)
    _refuse_types(values, (str, type(None)), join(where, column), "text is needed")
    return values


def _refuse_types(values: list[Any], kinds: tuple[type, ...], place: str, need: str) -> None:
    """Types are compared exactly, so that true and false are no numbers."""
    if set(map(type, values)) <= set(kinds):
        return
    row = next(i for i, value in enumerate(values) if type(value) not in kinds)
    raise InputError(f"{place}[{row}]", f"is {shown(values[row])}; {need}")


def _refuse_first(
    offends: BoolArray, raw: dict[str, Any], column: str, where: str, problem: str
) -> None:
    if not offends.any():
        return
    row = int(np.argmax(offends))
    value = raw[column][row]
    said = problem if value is None else f"{shown(value)} {problem}"
    raise InputError(f"{join(where, column)}[{row}]", said)


def _outside(allowed: Range) -> str:
    if allowed.high == _LARGEST and allowed.low == 0:
        return f"is below {allowed.low:g}"
    return f"is not within {allowed.low:g} and {allowed.high:g}"


def _check_length(length: int, expected: int, where: str, column: str, leader: str) -> None:
    if length != expected:
        problem = f"has {length} values where {leader} has {expected}"
        raise InputError(join(where, column), problem)
