"""A proposal of how a CSV log might be read, with how sure it is; somebody must accept it."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from typing import Any

from ebbline.errors import InputError
from ebbline.exchange.csv_mapping import DELIMITERS, UNITS
from ebbline.exchange.recording import refuse_size

SAMPLE_BYTES, SAMPLE_LINES = 64 * 1024, 200

SURE, LIKELY, UNSURE = "sure", "likely", "unsure"

# Words of a header, English and German, whole or as the beginning of a word.
_NAMES: dict[str, str] = {
    "clock": r"^(time of day|uhrzeit|clock)\b",
    "time": r"^(time|timestamp|utc|date|datum|zeit|epoch|elapsed|sekunden|seconds|t)(\b|_)",
    "voltage": r"^(\w+[ _])?(volt|spannung|u(\b|_|$))",
    "current": r"^(\w+[ _])?(current|strom|amp|i(\b|_|$))",
    "power": r"^(\w+[ _])?(power|leistung|p(\b|_|$))",
    "speed": r"^(\w+[ _])?(speed|velocity|geschwindigkeit|v\b.*(km/h|kmh|kph|mph|m/s))",
    "soc": r"^(\w+[ _])?(soc|state of charge|charge level|ladestand|ladezustand)(\b|_)",
    "lat": r"^(\w+[ _])?(lat|latitude|breite|breitengrad)(\b|_)",
    "lon": r"^(\w+[ _])?(lon|lng|long|longitude|länge|längengrad)(\b|_)",
    "altitude": r"^(\w+[ _])?(alt|altitude|elevation|höhe)(\b|_)",
}
_UNIT_WORDS: dict[str, dict[str, str]] = {
    "voltage": {"V": r"v|volts?", "mV": r"mv"},
    "current": {"A": r"a|amps?|ampere", "mA": r"ma"},
    "power": {"kW": r"kw", "W": r"w|watts?"},
    "speed": {"m/s": r"m/s|mps|m_s", "km/h": r"km/h|kmh|kph", "mph": r"mph"},
    "soc": {"%": r"%|pct|percent|prozent"},
    "altitude": {"m": r"m", "ft": r"ft|feet"},
}
_NOT_KNOWN = ("nan", "n/a", "na", "null", "none", "-", "--", "---", "?")
_ISO = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.,]\d+)?)?(Z|[+-]\d\d:?\d\d)?", re.I)
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_PATTERNS = (
    (r"\d\d?\.\d\d?\.\d{4}", "%d.%m.%Y", SURE),
    (r"\d{4}/\d\d?/\d\d?", "%Y/%m/%d", SURE),
    (r"\d{4}-\d\d-\d\d", "%Y-%m-%d", SURE),
    (r"\d\d?/\d\d?/\d{4}", "%d/%m/%Y", UNSURE),
)
_CLOCKS = ((r"\d\d?:\d\d:\d\d", "%H:%M:%S"), (r"\d\d?:\d\d:\d\d\.\d+", "%H:%M:%S.%f"),
           (r"\d\d?:\d\d", "%H:%M"))  # fmt: skip


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
    uses: dict[str, int] = {}
    for column, name in enumerate(sample.header):
        use = next((use for use, words in _NAMES.items() if re.search(words, name, re.I)), None)
        if use is not None and use not in uses:
            uses[use] = column
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
    _guess_time(sample, uses, zone, mapping, columns, still_open)
    uses.pop("clock", None)
    for use, column in uses.items():
        if use != "time":
            _guess_value(sample, use, column, mapping, columns, still_open)
    for one, other in (("lat", "lon"), ("lon", "lat")):
        if one in mapping and other not in mapping:
            del mapping[one]
            still_open.append(f"{one} is there, but {other} was not found")
    for column, name in enumerate(sample.header):
        if not any(entry["column"] == _shown(sample, column) for entry in columns):
            columns.append(
                {"column": _shown(sample, column), "number": column + 1, "as": "", "sure": UNSURE,
                 "because": f"'{name}' says nothing known; it would not be taken"}
            )  # fmt: skip
    return Guess(mapping, columns, still_open)


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
    body = rows[first:]
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
    return any(_NUMBER.fullmatch(cell.strip()) or _ISO.fullmatch(cell.strip()) for cell in row)


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
        for use, column in uses.items()
        if use not in ("time", "clock")
        for cell in sample.cells(column)
        if cell.lower() in _NOT_KNOWN
    }
    return ["", *sorted(found)]


def _guess_time(
    sample: _Sample,
    uses: dict[str, int],
    zone: str | None,
    mapping: dict[str, Any],
    columns: list[dict[str, Any]],
    still_open: list[str],
) -> None:
    column = uses.get("time", uses.pop("clock", None))
    if column is None:
        still_open.append("no column of times was found")
        return
    cells = [cell for cell in sample.cells(column) if cell]
    entry: dict[str, Any] = {"column": _named(sample, column), "format": "iso8601"}
    sure, because = SURE, "its cells are ISO 8601"
    if all(_ISO.fullmatch(cell) for cell in cells):
        needs_zone = not re.search(r":\d\d([.,]\d+)?(Z|[+-]\d\d:?\d\d)$", cells[0], re.I)
    elif all(_NUMBER.fullmatch(cell) for cell in cells):
        needs_zone = False
        first = sample.numbers(column)[0]
        if 1e9 < first < 1e10:
            entry["format"], because = "epoch_s", "its numbers are seconds since 1970"
        elif 1e12 < first < 1e13:
            entry["format"], because = "epoch_ms", "its numbers are milliseconds since 1970"
        else:
            entry |= {"format": "elapsed_s", "start": None}
            sure, because = UNSURE, "its numbers may be seconds since a start"
            still_open.append("The start: when did the log begin?")
    else:
        needs_zone = True
        pattern, sure = _pattern(cells)
        clock = uses.get("clock")
        if pattern is None and clock is not None:
            joined = zip(cells, sample.cells(clock), strict=False)
            pattern, sure = _pattern([f"{date} {time}" for date, time in joined])
            entry["clock_column"] = _named(sample, clock)
            columns.append(
                {
                    "column": _shown(sample, clock),
                    "number": clock + 1,
                    "as": "time.clock_column",
                    "sure": sure,
                    "because": "its name and cells",
                }
            )
        if pattern is None:
            still_open.append(f"The form of the times: {cells[0]!r} has none known here.")
            sure, because = UNSURE, "its name"
        else:
            because = f"its cells look like {pattern}"
            if sure == UNSURE:
                because += ", but day and month may be the other way round"
        entry["format"] = pattern
    if needs_zone:
        entry["zone"] = zone
        if zone is None:
            still_open.append("The time zone: the times state no offset.")
    mapping["time"] = entry
    columns.append(
        {
            "column": _shown(sample, column),
            "number": column + 1,
            "as": "time",
            "sure": sure,
            "because": because,
        }
    )


def _pattern(cells: list[str]) -> tuple[str | None, str]:
    for date, date_form, sure in _PATTERNS:
        for clock, clock_form in _CLOCKS:
            if all(re.fullmatch(f"{date} {clock}", cell) for cell in cells):
                if sure == SURE:
                    return f"{date_form} {clock_form}", sure
                parts = [cell.split("/") for cell in cells]
                if any(int(part[0]) > 12 for part in parts):
                    return f"{date_form} {clock_form}", SURE
                if any(int(part[1]) > 12 for part in parts):
                    return f"%m/%d/%Y {clock_form}", SURE
                return f"{date_form} {clock_form}", UNSURE
    return None, UNSURE


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
        columns.append(
            {
                "column": _shown(sample, column),
                "number": column + 1,
                "as": "",
                "sure": UNSURE,
                "because": because,
            }
        )
        return
    unit, stated = _unit(use, name)
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
    columns.append(
        {
            "column": _shown(sample, column),
            "number": column + 1,
            "as": use,
            "sure": sure,
            "because": because,
        }
    )


def _unit(use: str, name: str) -> tuple[str, bool]:
    """The unit that a header states, else the usual one."""
    for unit, words in _UNIT_WORDS.get(use, {}).items():
        if re.search(rf"([\[(/ _]|\bin ){{1}}({words})[\])]?$", name, re.I):
            return unit, True
    usual = {"speed": "km/h"}
    return usual.get(use, next(iter(UNITS[use]))), False
