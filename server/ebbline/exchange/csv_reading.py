"""CSV logs by a stated mapping: every row is read, or the file is refused with line and column."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from ebbline.errors import InputError
from ebbline.exchange.columns import NUMBER_COLUMNS, Range, check_breadcrumbs
from ebbline.exchange.csv_mapping import UNITS, Mapping
from ebbline.exchange.csv_table import Table, decode, numbers_of, read_table
from ebbline.exchange.csv_times import times_ms
from ebbline.exchange.json_text import shown
from ebbline.exchange.logs import LOG_COLUMNS, check_log
from ebbline.exchange.recording import Origin, Recording, refuse_size
from ebbline.records.arrays import FloatArray, IntArray

# What each quantity is called in the session file, in the log and in the breadcrumbs.
_IN_LOG = {
    "voltage": "voltage_v",
    "current": "current_a",
    "power": "power_kw",
    "speed": "speed_mps",
    "soc": "soc_pct",
}
_IN_FIXES = {"lat": "lat", "lon": "lon", "altitude": "altitude_m", "accuracy": "accuracy_m"}


def read_csv(data: bytes, mapping: Mapping, origin: Origin) -> Recording:
    """Read a log. Positions become fixes of a device, the rest a log of power of the same device.

    Args:
        data: the file.
        mapping: how to read it, as the user states.
        origin: the file's name and hash.

    Raises:
        InputError: names the line and the column, or the key of the mapping, that is wrong.
        TooLargeError: more bytes or rows than we take.
    """
    refuse_size(data)
    table, positions = read_table(decode(data, mapping.encoding), mapping)
    t_ms = times_ms(table, positions["time"], positions.get("clock"), mapping)
    values = {
        quantity: _values(table, positions[quantity], mapping, quantity)
        for quantity in mapping.values
    }
    by_receiver = "speed" in values and mapping.values["speed"].source == "receiver"
    device = origin.device_id()
    notes = _left_out(table.header, set(positions.values()))
    repeated = int(np.count_nonzero(np.diff(t_ms) == 0))
    if repeated:
        notes.append(f"{repeated} of {t_ms.size} rows have the time of the row above them.")
    recording = Recording(notes=notes)
    if "lat" in values:
        recording.breadcrumbs.extend(
            _fixes(table, t_ms, values, by_receiver, device, origin, notes, positions)
        )
    elif by_receiver:
        raise InputError("mapping.speed.source", "is 'receiver', but no position is mapped")
    logged = [q for q in _IN_LOG if q in values and not (q == "speed" and by_receiver)]
    if logged:
        log: dict[str, Any] = {
            "device": device,
            "label": origin.name,
            "source_sha256": origin.sha256,
            "mapping": _plain(mapping),
            "t_ms": t_ms.tolist(),
        }
        for quantity in logged:
            name = _IN_LOG[quantity]
            _refuse_outside(values[quantity], LOG_COLUMNS[name], table, positions[quantity])
            log[name] = _nullable(values[quantity])
        check_log(log, "log")
        recording.logs.append(log)
    return recording


def _values(table: Table, position: int, mapping: Mapping, quantity: str) -> FloatArray:
    """One quantity in its unit of the session file, NaN where it is missing."""
    value = mapping.values[quantity]
    numbers = numbers_of(table, position, mapping)
    scale = UNITS[quantity][value.unit] * (-1.0 if value.discharge == "negative" else 1.0)
    return np.asarray(numbers * scale + 0.0)  # adding zero: no minus zero


def _refuse_outside(values: FloatArray, allowed: Range, table: Table, position: int) -> None:
    outside = (values < allowed.low) | (values > allowed.high)
    if outside.any():
        row = int(np.argmax(outside))
        bounds = f"{allowed.low:g} to {allowed.high:g}" if allowed.high < 1e6 else "0 or above"
        text = table.cells[position].iloc[row]
        raise InputError(table.place(row, position), f"is {shown(text)}; {bounds} is possible")


def _fixes(
    table: Table,
    t_ms: IntArray,
    values: dict[str, FloatArray],
    by_receiver: bool,
    device: str,
    origin: Origin,
    notes: list[str],
    positions: dict[str, int],
) -> list[dict[str, Any]]:
    """One entry of breadcrumbs; ``seq`` is the row. Rows without a position have none."""
    here = np.isfinite(values["lat"])
    half = here != np.isfinite(values["lon"])
    if half.any():
        row = int(np.argmax(half))
        side = "lon" if here[row] else "lat"
        raise InputError(table.place(row, positions[side]), "is missing beside the other half")
    if not here.all():
        notes.append(f"{int((~here).sum())} of {here.size} rows have no position.")
    if not here.any():
        return []
    columns = {**_IN_FIXES, **({"speed": "speed_mps"} if by_receiver else {})}
    entry: dict[str, Any] = {
        "device": device,
        "source": {"name": origin.name, "sha256": origin.sha256},
        "seq": np.flatnonzero(here).tolist(),
        "t_ms": t_ms[here].tolist(),
    }
    for quantity, name in columns.items():
        if quantity in values:
            _refuse_outside(values[quantity], NUMBER_COLUMNS[name], table, positions[quantity])
            entry[name] = _nullable(values[quantity][here])
    check_breadcrumbs(entry, "positions")
    return [entry]


def _left_out(header: list[str], taken: set[int]) -> list[str]:
    others = [name or f"column {at + 1}" for at, name in enumerate(header) if at not in taken]
    return [f"Not mapped, so not taken: {', '.join(others)}."] if others else []


def _nullable(values: FloatArray) -> list[float | None]:
    return [None if np.isnan(value) else value for value in values.tolist()]


def _plain(mapping: Mapping) -> dict[str, Any]:
    """The mapping as JSON, for anybody who asks how a log was read."""
    raw = asdict(mapping)
    values = raw.pop("values")
    raw["missing"] = list(mapping.missing)
    return {**raw, **values}
