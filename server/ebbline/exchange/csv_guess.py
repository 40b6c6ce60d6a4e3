"""A proposal of how a CSV log might be read, with how sure it is; somebody must accept it."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from typing import Any

from ebbline.errors import InputError
from ebbline.exchange.csv_header import best, counts_in, names_a_time, unit_of
from ebbline.exchange.csv_mapping import DELIMITERS, UNITS
from ebbline.exchange.csv_time_forms import ISO, clocks_alone, days_alone, form_of
from ebbline.exchange.recording import refuse_size

SAMPLE_BYTES, SAMPLE_LINES = 64 * 1024, 200

SURE, LIKELY, UNSURE = "sure", "likely", "unsure"

_NOT_KNOWN = ("nan", "n/a", "na", "null", "none", "-", "--", "---", "?")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_QUANTITIES = ("voltage", "current", "power", "speed", "soc", "lat", "lon", "altitude")
_USUAL = {"speed": "km/h"}  # of quantities whose first unit isn't


@dataclass(frozen=True, slots=True)
class Guess:
    """A mapping that may be right, how sure each column is and why, and what is still open."""

    mapping: dict[str, Any]
    columns: list[dict[str, Any]]
    open: list[str]


@dataclass(frozen=True, slots=True)
class _Sample:
    delimiter: str
    decimal: str
    encoding: str
    header_line: int
    first_data_line: int
    header: list[str]
    units: list[str]  # what a line of units below the header says of each column
    rows: list[list[str]]

    def cells(self, column: int) -> list[str]:
        return [row[column].strip() for row in self.rows]

    def numbers(self, column: int) -> list[float]:
        cells = [cell.replace(self.decimal, ".") for cell in self.cells(column)]
        return [float(cell) for cell in cells if _NUMBER.fullmatch(cell)]


def guess(data: bytes, zone: str | None = None) -> Guess:
    """Propose a mapping from the header and the first lines.

    Raises:
        InputError: no header above rows of equal length can be made out.
        TooLargeError: more bytes than we take.
    """
    refuse_size(data)
    sample = _sample(data)
    found = {quantity: best(quantity, sample.header, sample.units) for quantity in _QUANTITIES}
    uses = {quantity: one[0] for quantity, one in found.items() if one is not None}
    mapping: dict[str, Any] = {
        "delimiter": sample.delimiter,
        "decimal": sample.decimal,
        "encoding": sample.encoding,
        "header_line": sample.header_line,
        "first_data_line": sample.first_data_line,
        "missing": _missing(sample, uses),
    }
    columns: list[dict[str, Any]] = []
    still_open: list[str] = []
    _guess_time(sample, zone, mapping, columns, still_open)
    for use, column in uses.items():
        if not any(entry["number"] == column + 1 for entry in columns):
            _guess_value(sample, use, column, mapping, columns, still_open)
    still_open += _not_found(mapping)
    for one, other in (("lat", "lon"), ("lon", "lat")):
        if one in mapping and other not in mapping:
            del mapping[one]
            still_open.append(f"{one} is there, but {other} was not found")
    for column, name in enumerate(sample.header):
        if not any(entry["number"] == column + 1 for entry in columns):
            because = f"'{name}' says nothing known; it would not be taken"
            columns.append(_column(sample, column, "", UNSURE, because))
    return Guess(mapping, columns, still_open)


def _not_found(mapping: dict[str, Any]) -> list[str]:
    """What a log of power still lacks, in words."""
    if not any(use in mapping for use in _QUANTITIES):
        return ["No column of voltage, current, power, speed, charge or position was found: say "
                "which they are."]  # fmt: skip
    if "power" in mapping:
        return []
    lacking = [use for use in ("voltage", "current") if use not in mapping]
    if len(lacking) == 1:
        return [f"No {lacking[0]} was found; without it the log tells no energy."]
    return []


def _sample(data: bytes) -> _Sample:
    text, encoding = _text(data[:SAMPLE_BYTES])
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(data) > SAMPLE_BYTES:
        lines = lines[:-1]  # cut in the middle
    lines = lines[:SAMPLE_LINES]
    while lines and not lines[-1].strip():
        lines.pop()
    best: tuple[int, int, str, list[list[str]]] | None = None
    for delimiter in (";", "\t", ","):
        assert delimiter in DELIMITERS
        try:
            rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter))
        except csv.Error:
            continue
        width = len(rows[-1]) if rows else 0
        header = len(rows)
        while header > 0 and len(rows[header - 1]) == width:
            header -= 1
        # How many rows of that width there are counts, then how wide they are.
        found = (len(rows) - header, width, delimiter, rows)
        if width > 1 and found[0] > 1 and (best is None or found[:2] > best[:2]):
            best = found
    if best is None:
        raise InputError(
            "line 1", "no header above rows of equal length; comma, semicolon and tab were tried"
        )
    count, _, delimiter, rows = best
    top = len(rows) - count
    first = next((k for k in range(top + 1, len(rows)) if _has_data(rows[k])), None)
    if first is None:
        raise InputError(f"line {top + 1}", "no row of numbers follows the header")
    body, width_of = rows[first:], len(rows[top])
    cells = [cell.strip() for row in body for cell in row]
    commas = sum(bool(re.fullmatch(r"[+-]?\d+,\d+", cell)) for cell in cells)
    points = sum(bool(re.fullmatch(r"[+-]?\d+\.\d+", cell)) for cell in cells)
    return _Sample(
        delimiter=delimiter,
        decimal="," if commas > points else ".",
        encoding=encoding,
        header_line=top + 1,
        first_data_line=first + 1,
        header=[name.strip() for name in rows[top]],
        units=[unit.strip() for unit in rows[top + 1]] if first == top + 2 else [""] * width_of,
        rows=body,
    )


def _text(start: bytes) -> tuple[str, str]:
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        return start[: len(start) // 2 * 2].decode("utf-16", errors="ignore"), "utf-16"
    try:
        return start.decode("utf-8-sig"), "utf-8"
    except UnicodeDecodeError as error:
        if error.start > len(start) - 4:  # a character cut at the sample's end
            return start[: error.start].decode("utf-8-sig"), "utf-8"
        return start.decode("cp1252", errors="replace"), "cp1252"


def _has_data(row: list[str]) -> bool:
    return any(_NUMBER.fullmatch(cell.strip()) or ISO.fullmatch(cell.strip()) for cell in row)


def _shown(sample: _Sample, column: int) -> str:
    """A column as the mapping names it: by header, or by number where that isn't unique."""
    name = sample.header[column]
    return name if name and sample.header.count(name) == 1 else str(column + 1)


def _named(sample: _Sample, column: int) -> str | int:
    shown = _shown(sample, column)
    return shown if shown == sample.header[column] else column + 1


def _missing(sample: _Sample, uses: dict[str, int]) -> list[str]:
    found = {
        cell
        for column in uses.values()
        for cell in sample.cells(column)
        if cell.lower() in _NOT_KNOWN
    }
    return ["", *sorted(found)]


def _guess_time(
    sample: _Sample,
    zone: str | None,
    mapping: dict[str, Any],
    columns: list[dict[str, Any]],
    still_open: list[str],
) -> None:
    found = _time_columns(sample)
    if found is None:
        still_open.append("No column of times was found: say which it is.")
        return
    column, clock = found
    cells = [cell for cell in sample.cells(column) if cell]
    entry: dict[str, Any] = {"column": _named(sample, column), "format": "iso8601"}
    sure, because = SURE, "its cells are ISO 8601"
    if clock is not None:
        entry["clock_column"] = _named(sample, clock)
        cells = [
            f"{day} {time}"
            for day, time in zip(sample.cells(column), sample.cells(clock), strict=True)
            if day or time
        ]
    if clock is None and all(ISO.fullmatch(cell) for cell in cells):
        needs_zone = not re.search(r":\d\d([.,]\d+)?(Z|[+-]\d\d:?\d\d)$", cells[0], re.I)
    elif clock is None and all(_NUMBER.fullmatch(cell) for cell in cells):
        needs_zone = False
        sure, because = _counted(sample, column, entry, still_open)
    else:
        needs_zone = True
        form, certain = form_of(cells)
        sure, because = SURE, f"its cells look like {form}"
        if form is None:
            sure, because = UNSURE, "its name"
            still_open.append(f"The form of the times: {cells[0]!r} has none known here.")
        elif not certain:
            sure = UNSURE
            because += ", but day and month may be the other way round"
        entry["format"] = form
    if needs_zone:
        entry["zone"] = zone
        if zone is None:
            still_open.append("The time zone: the times state no offset.")
    mapping["time"] = entry
    columns.append(_column(sample, column, "time", sure, because))
    if clock is not None:
        columns.append(_column(sample, clock, "time.clock_column", sure, "its name and cells"))


def _time_columns(sample: _Sample) -> tuple[int, int | None] | None:
    """The column of times, or those of the day and of the time of day, the likeliest first: whole
    times, day and time apart, times since 1970, other numbers.
    """
    days, clocks, counted, other = [], [], [], []
    for column, name in enumerate(sample.header):
        cells = [cell for cell in sample.cells(column) if cell]
        if not cells or not names_a_time(name):
            continue
        if all(ISO.fullmatch(cell) for cell in cells) or form_of(cells)[0]:
            return column, None
        if days_alone(cells):
            days.append(column)
        elif clocks_alone(cells):
            clocks.append(column)
        elif all(_NUMBER.fullmatch(cell) for cell in cells):
            counted.append(column)
        else:
            other.append(column)
    if days and clocks:
        return days[0], clocks[0]
    counted.sort(key=lambda column: not _since_1970(sample.numbers(column)[0]))
    alone = [*counted, *days, *clocks, *other]
    return (alone[0], None) if alone else None


def _since_1970(number: float) -> str | None:
    if 1e9 < number < 1e10:
        return "epoch_s"
    return "epoch_ms" if 1e12 < number < 1e13 else None


def _counted(
    sample: _Sample, column: int, entry: dict[str, Any], still_open: list[str]
) -> tuple[str, str]:
    """Which numbers times are; how sure that is, and why."""
    since = _since_1970(sample.numbers(column)[0])
    if since is not None:
        entry["format"] = since
        unit = "milliseconds" if since == "epoch_ms" else "seconds"
        return SURE, f"its numbers are {unit} since 1970"
    unit = counts_in(sample.header[column], sample.units[column])
    entry |= {"format": f"elapsed_{unit}", "start": None}
    still_open.append("The start: when did the log begin?")
    words = "milliseconds" if unit == "ms" else "seconds"
    return UNSURE, f"its numbers may be {words} since a start"


def _column(sample: _Sample, column: int, use: str, sure: str, because: str) -> dict[str, Any]:
    """What is proposed of a column, and why."""
    return {
        "column": _shown(sample, column),
        "number": column + 1,
        "as": use,
        "sure": sure,
        "because": because,
    }


def _guess_value(
    sample: _Sample,
    use: str,
    column: int,
    mapping: dict[str, Any],
    columns: list[dict[str, Any]],
    still_open: list[str],
) -> None:
    numbers = sample.numbers(column)
    name = sample.header[column]
    if not numbers:
        because = f"'{name}' sounds like {use}, but holds no numbers"
        columns.append(_column(sample, column, "", UNSURE, because))
        return
    stated = unit_of(use, name, sample.units[column])
    unit = stated or _USUAL.get(use, next(iter(UNITS[use])))
    sure, because = (
        (SURE, "its name and its unit") if stated else (LIKELY, f"its name; {unit} is usual")
    )
    if use in ("lat", "lon"):
        sure, because = SURE, "its name"
    if use == "soc" and not stated and max(numbers) <= 1.0 and len(set(numbers)) > 2:
        unit, sure, because = "1", UNSURE, "its name; its numbers may be shares of 1"
    entry: dict[str, Any] = {"column": _named(sample, column), "unit": unit}
    if use in ("current", "power"):
        ups, downs = sum(n > 0 for n in numbers), sum(n < 0 for n in numbers)
        entry["discharge"] = "negative" if downs > ups else "positive"
        sure = UNSURE
        because += f"; most numbers are {entry['discharge']}, taken for driving, not for charging"
        still_open.append(
            f"The sign of the {use}: do {entry['discharge']} numbers in {_shown(sample, column)!r} "
            "mean that it flows out of the pack, as when driving?"
        )
    mapping[use] = entry
    columns.append(_column(sample, column, use, sure, because))
