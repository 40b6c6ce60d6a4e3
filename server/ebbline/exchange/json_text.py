"""JSON bytes to plain values and back, with nothing lost on the way.

The standard parser reads, because only it can be told to refuse a key that appears twice (any
other reader keeps one of the two in silence); orjson writes.
"""

from __future__ import annotations

import json
import math

import orjson

from ebbline.errors import InputError

MAX_DEPTH = 64  # orjson writes no more than 254 levels; no session needs ten
SMALLEST_INTEGER, LARGEST_INTEGER = -(2**63), 2**64 - 1  # what orjson can write

_SHOWN_CHARACTERS = 60


def parse(data: bytes) -> object:
    """Read one UTF-8 JSON text (RFC 8259).

    Raises:
        InputError: not UTF-8, not JSON, or a key twice in one object. What the parser takes but
            JSON doesn't have, such as NaN, is left for ``check_plain``, which knows its place.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("$", f"is not UTF-8 text: byte {error.start} can't be read") from None
    try:
        return json.loads(text, object_pairs_hook=_object)
    except json.JSONDecodeError as error:
        problem = f"is not JSON: {error.msg} at line {error.lineno}, column {error.colno}"
        raise InputError("$", problem) from None
    except RecursionError:
        raise InputError("$", f"is nested deeper than {MAX_DEPTH} levels") from None
    except ValueError:  # an integer of more digits than Python converts
        raise InputError("$", "holds a number of thousands of digits") from None


def dump(value: object) -> bytes:
    """Write a value as compact UTF-8 JSON, keys in the order they have."""
    return orjson.dumps(value)


def check_plain(value: object, where: str) -> None:
    """Refuse what JSON can't carry both ways: NaN, lone surrogates, huge integers, deep nesting.

    Args:
        value: what a JSON parser gave, of any depth.
        where: the place of ``value``, put before the place of the offence.

    Raises:
        InputError: names the first offence in document order.
    """
    waiting: list[tuple[object, str, int]] = [(value, where, 1)]
    while waiting:
        item, place, depth = waiting.pop()
        if isinstance(item, (dict, list)) and depth > MAX_DEPTH:
            raise InputError(where, f"is nested deeper than {MAX_DEPTH} levels")
        if isinstance(item, dict):
            for key in item:
                if not isinstance(key, str):
                    raise InputError(place, f"has a key that is not text: {shown(key)}")
                _check_text(key, place)
            waiting.extend(
                (part, join(place, key), depth + 1) for key, part in reversed(item.items())
            )
        elif isinstance(item, list):
            if not _is_plain_column(item):
                waiting.extend(
                    (item[i], f"{place}[{i}]", depth + 1) for i in reversed(range(len(item)))
                )
        else:
            _check_scalar(item, place)


def join(where: str, key: str) -> str:
    """The place of ``key`` inside ``where``."""
    return key if where == "$" else f"{where}.{key}"


def shown(value: object) -> str:
    """A value as a message shows it: short, and safe for anything."""
    if isinstance(value, int) and value.bit_length() > 64:
        return f"an integer of {value.bit_length()} bits"
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "a list"
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    text = ascii(value) if isinstance(value, str) and not value.isprintable() else repr(value)
    return text if len(text) <= _SHOWN_CHARACTERS else text[:_SHOWN_CHARACTERS] + "…"


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise InputError("$", f"has the key {shown(key)} twice in one object")
            seen.add(key)
    return found


def _is_plain_column(items: list[object]) -> bool:
    """Whether a flat list is sound, found without looking at its values one by one in Python."""
    kinds = set(map(type, items)) - {type(None), bool}
    if not kinds:
        return True
    if kinds == {str}:
        try:
            "".join(item for item in items if isinstance(item, str)).encode()
        except UnicodeEncodeError:
            return False
        return True
    if kinds <= {int, float}:
        numbers = [item for item in items if isinstance(item, (int, float))]
        try:
            total = math.fsum(numbers)
        except (OverflowError, ValueError):
            return False
        in_range = min(numbers) >= SMALLEST_INTEGER and max(numbers) <= LARGEST_INTEGER
        return math.isfinite(total) and (int not in kinds or in_range)
    return False


def _check_scalar(item: object, place: str) -> None:
    if item is None or isinstance(item, bool):
        return
    if isinstance(item, str):
        _check_text(item, place)
    elif isinstance(item, int):
        if not SMALLEST_INTEGER <= item <= LARGEST_INTEGER:
            raise InputError(place, f"is {shown(item)}; 64 are the most we take")
    elif isinstance(item, float):
        if not math.isfinite(item):
            raise InputError(
                place, f"is {item}; JSON has finite numbers only, and null for 'not known'"
            )
    else:
        raise InputError(place, f"is {shown(item)}, which JSON does not have")


def _check_text(text: str, place: str) -> None:
    try:
        text.encode()
    except UnicodeEncodeError as error:
        problem = f"has half a surrogate pair at character {error.start}, which is no text"
        raise InputError(place, problem) from None
