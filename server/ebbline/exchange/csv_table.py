"""A CSV file's rows as text, each with its line: nothing is skipped, nothing padded."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange.csv_mapping import Mapping
from ebbline.exchange.json_text import shown
from ebbline.exchange.logs import MAX_ROWS
from ebbline.records.arrays import BoolArray, FloatArray, IntArray

_NUMBER = {
    ".": r"\s*[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?\s*",
    ",": r"\s*[+-]?(?:\d+(?:,\d*)?|,\d+)(?:[eE][+-]?\d+)?\s*",
}


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """The rows of a file as text: mapped columns under their position, and each row's line."""

    header: list[str]
    cells: dict[int, pd.Series[str]]
    lines: IntArray

    def place(self, row: int, column: int) -> str:
        """A cell as messages name it."""
        return f"line {self.lines[row]}, column {shown(self.header[column])}"


def decode(data: bytes, encoding: str) -> str:
    """A file's text, with line feeds alone at the ends of lines.

    Raises:
        InputError: the bytes aren't in that encoding.
    """
    try:
        text = data.decode("utf-8-sig" if encoding == "utf-8" else encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"line {line}", f"is not {encoding} text") from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_table(text: str, mapping: Mapping) -> tuple[Table, dict[str, int]]:
    """The mapped columns of every row, and each mapped quantity's column counted from 0
    (``time`` and ``clock`` for the time).

    Raises:
        InputError: names the line, or the key of the mapping.
        TooLargeError: more than ``MAX_ROWS`` rows.
    """
    reader = csv.reader(io.StringIO(text), delimiter=mapping.delimiter, strict=True)
    header: list[str] | None = None
    positions: dict[str, int] = {}
    wanted: list[int] = []
    columns: list[list[str]] = []
    lines: list[int] = []
    before = 0
    try:
        for fields in reader:
            line, before = before + 1, reader.line_num
            if header is None:
                if line == mapping.header_line:
                    header = [name.strip() for name in fields]
                    positions = _positions(header, mapping)
                    wanted = sorted(set(positions.values()))
                    columns = [[] for _ in wanted]
                continue
            if line < mapping.first_data_line:
                continue
            if not fields and _rest_is_blank(reader):
                break
            _refuse_width(fields, header, line)
            for cells, position in zip(columns, wanted, strict=True):
                cells.append(fields[position])
            lines.append(line)
            if len(lines) > MAX_ROWS:
                raise TooLargeError(f"line {line}", f"is beyond the {MAX_ROWS:,} rows we take")
    except csv.Error as error:
        raise InputError(f"line {reader.line_num}", f"can't be read: {error}") from None
    if header is None:
        raise InputError("mapping.header_line", f"is {mapping.header_line}; no such line")
    if not lines:
        raise InputError(f"line {mapping.first_data_line}", "holds no row; the file has no data")
    texts = {at: pd.Series(found, dtype=str) for at, found in zip(wanted, columns, strict=True)}
    return Table(header, texts, np.array(lines, dtype=np.int64)), positions


def _positions(header: list[str], mapping: Mapping) -> dict[str, int]:
    named: dict[str, tuple[str, str | int]] = {
        "time": ("mapping.time.column", mapping.time.column),
    }
    if mapping.time.clock_column is not None:
        named["clock"] = ("mapping.time.clock_column", mapping.time.clock_column)
    for quantity, value in mapping.values.items():
        named[quantity] = (f"mapping.{quantity}.column", value.column)
    positions: dict[str, int] = {}
    for use, (where, column) in named.items():
        position = _position(header, column, where)
        taken = next((other for other, at in positions.items() if at == position), None)
        if taken is not None:
            raise InputError(where, f"is {shown(column)}, which is mapped to {taken} already")
        positions[use] = position
    return positions


def _position(header: list[str], column: str | int, where: str) -> int:
    if isinstance(column, int):
        if column > len(header):
            raise InputError(where, f"is {column}; the header has {len(header)} columns")
        return column - 1
    found = [at for at, name in enumerate(header) if name == column.strip()]
    if not found:
        raise InputError(where, f"{shown(column)} is not in the header: {', '.join(header)[:300]}")
    if len(found) > 1:
        problem = f"{shown(column)} is in the header {len(found)} times; give its number instead"
        raise InputError(where, problem)
    return found[0]


def _rest_is_blank(reader: Any) -> bool:
    """Whether nothing but blank lines follows, as at the end of many files."""
    return not any(fields for fields in reader)


def _refuse_width(fields: list[str], header: list[str], line: int) -> None:
    surplus = fields[len(header) :]
    if len(fields) == len(header) or (fields and surplus == [""]):  # a delimiter at the line's end
        return
    problem = f"has {len(fields)} columns where the header has {len(header)}"
    if len(fields) < len(header):
        problem += f"; {shown(header[len(fields)])} is missing"
    raise InputError(f"line {line}", problem)


def numbers_of(table: Table, position: int, mapping: Mapping) -> FloatArray:
    """A column's numbers, NaN where a text stands that means 'not known'.

    Raises:
        InputError: the first cell that is neither.
    """
    cells = table.cells[position]
    missing = cells.str.strip().isin(mapping.missing).to_numpy()
    readable = cells.str.fullmatch(_NUMBER[mapping.decimal]).to_numpy(dtype=bool)
    _refuse_first(~(missing | readable), table, position, mapping)
    numbers = np.full(cells.size, np.nan)
    texts = cells[readable & ~missing].str.replace(mapping.decimal, ".", regex=False)
    numbers[readable & ~missing] = texts.astype(np.float64).to_numpy()
    _refuse_first(np.isinf(numbers), table, position, mapping)
    return numbers


def _refuse_first(offends: BoolArray, table: Table, position: int, mapping: Mapping) -> None:
    if not offends.any():
        return
    row = int(np.argmax(offends))
    text = table.cells[position].iloc[row]
    raise InputError(
        table.place(row, position),
        f"is {shown(text)}; a number with decimal {shown(mapping.decimal)} is needed"
        + ("" if text.strip() else ", or 'missing' in the mapping must hold the empty text"),
    )
