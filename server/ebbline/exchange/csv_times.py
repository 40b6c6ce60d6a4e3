"""The times of a CSV log: a zone is stated or the file says its offsets; none is assumed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ebbline.errors import InputError
from ebbline.exchange.csv_mapping import PLAIN_TIMES, Mapping, start_of
from ebbline.exchange.csv_table import Table, numbers_of
from ebbline.exchange.fields import EARLIEST_MS, LATEST_MS
from ebbline.exchange.json_text import shown
from ebbline.records.arrays import BoolArray, FloatArray, IntArray

_ISO = r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(?::\d\d(?:[.,]\d+)?)?\s*(?:[Zz]|[+-]\d\d:?\d\d)?"
_OFFSET = r".*:\d\d(?:[.,]\d+)?\s*(?:[Zz]|[+-]\d\d:?\d\d)"


def times_ms(table: Table, position: int, clock: int | None, mapping: Mapping) -> IntArray:
    """Every row's time in milliseconds since the Unix epoch (n,), never going back.

    Args:
        table: the rows.
        position: the column of the time, or of the date.
        clock: the column of the time of day where that is apart.
        mapping: the form, the zone, the start.

    Raises:
        InputError: the first row whose time can't be read, falls into an hour that happens twice
            or never, lies before the row above it, or has no zone.
    """
    if mapping.time.format in PLAIN_TIMES[1:]:
        exact_ms = _counted_ms(table, position, mapping)
    else:
        exact_ms = _written_ms(table, position, clock, mapping)
    _refuse_first(
        (exact_ms < EARLIEST_MS) | (exact_ms >= LATEST_MS), table, position,
        "is not a time between the years 2000 and 2200",
    )  # fmt: skip
    t_ms = np.rint(exact_ms).astype(np.int64)
    back = np.diff(t_ms, prepend=t_ms[0]) < 0
    _refuse_first(back, table, position, "is earlier than the row above it")
    return t_ms


def _counted_ms(table: Table, position: int, mapping: Mapping) -> FloatArray:
    numbers = numbers_of(table, position, mapping)
    _refuse_first(np.isnan(numbers), table, position, "is no time; every row needs one")
    if mapping.time.format == "epoch_ms":
        return numbers
    if mapping.time.format == "epoch_s":
        return np.asarray(numbers * 1000)
    scale = 1.0 if mapping.time.format == "elapsed_ms" else 1000.0
    return np.asarray(start_of(mapping.time).timestamp() * 1000 + numbers * scale)


def _written_ms(table: Table, position: int, clock: int | None, mapping: Mapping) -> FloatArray:
    texts = table.cells[position].str.strip()
    if clock is not None:
        texts = texts + " " + table.cells[clock].str.strip()
    form, zone = mapping.time.format, mapping.time.zone
    if form == "iso8601":
        _refuse_first(
            ~texts.str.fullmatch(_ISO).to_numpy(dtype=bool), table, position,
            "is no time such as 2026-03-02T15:04:05+01:00 or 2026-03-02 15:04:05",
        )  # fmt: skip
        offsets = texts.str.fullmatch(_OFFSET).to_numpy(dtype=bool)
        if offsets[0] != offsets[-1] or offsets.min() != offsets.max():
            problem = "states an offset or leaves it out, unlike the first row"
            _refuse_first(offsets != offsets[0], table, position, problem)
        has_offset, form = bool(offsets[0]), "ISO8601"
        texts = texts.str.replace(",", ".", regex=False).str.upper()
    else:
        has_offset = "%z" in form
    if not has_offset and zone is None:
        raise InputError(
            "mapping.time.zone",
            f"is missing: {shown(texts.iloc[0])} (line {table.lines[0]}) says no offset, so the "
            "zone must be stated, such as Europe/Vienna or UTC",
        )
    try:
        moments = pd.to_datetime(texts, format=form, utc=has_offset, errors="coerce")
    except ValueError as error:
        raise InputError("mapping.time.format", f"is {shown(form)}: {error}") from None
    unread = moments.isna().to_numpy(dtype=bool)
    _refuse_first(unread, table, position, f"is no such time (read as {mapping.time.format})")
    if not has_offset:
        moments = moments.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
        _refuse_first(
            moments.isna().to_numpy(dtype=bool), table, position,
            f"happens twice or never in {zone}, where clocks are changed; have the log written in "
            "UTC or with offsets",
        )  # fmt: skip
    whole_us = moments.dt.tz_convert("UTC").dt.as_unit("us").astype("int64")
    return np.asarray(whole_us.to_numpy() / 1000)


def _refuse_first(offends: BoolArray, table: Table, position: int, problem: str) -> None:
    if offends.any():
        row = int(np.argmax(offends))
        text = table.cells[position].iloc[row]
        raise InputError(table.place(row, position), f"{shown(text)} {problem}")
