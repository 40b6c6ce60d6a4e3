"""Columns of a table, read off the records that its rows are made of."""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.exchange.plain import key_of
from ebbline.records.result import Bounds, Quantity
from ebbline.sessions.results.columns import triple

_TYPES = {float: "number", int: "integer", str: "string", bool: "boolean"}
_UNITS = {
    "per_1000_km_kwh": "kWh per 1000 km",
    "wh_per_km": "Wh/km",
    "kwh": "kWh",
    "kw": "kW",
    "mps": "m/s",
    "pct": "%",
    "ms": "ms",
    "km": "km",
    "m": "m",
    "s": "s",
    "c": "\u00b0C",
    "volts": "V",
    "v": "V",
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: a Table Schema field. ``words``: all that may stand there; ``bounds``: Table
    Schema's minimum and maximum.
    """

    name: str
    type: str
    required: bool = False
    words: tuple[str, ...] = ()
    unit: str | None = None
    description: str | None = None
    bounds: Mapping[str, float] | None = None

    def field(self) -> dict[str, Any]:
        """The Table Schema field."""
        constraints: dict[str, Any] = {
            **({"required": True} if self.required else {}),
            **({"enum": list(self.words)} if self.words else {}),
            **(self.bounds or {}),
        }
        told = {"unit": self.unit or unit_of(self.name), "description": self.description,
                "constraints": constraints}  # fmt: skip
        return {"name": self.name, "type": self.type, **{k: v for k, v in told.items() if v}}


def unit_of(name: str) -> str | None:
    """The unit that a column's name ends with."""
    stem = name.removesuffix("_low").removesuffix("_high")
    found = (unit for end, unit in _UNITS.items() if stem == end or stem.endswith(f"_{end}"))
    return next(found, None)


def figure(name: str) -> list[Column]:
    """A figure and both ends of its 95 % interval."""
    value, low, high = triple(name)
    return [
        Column(value, "number"),
        Column(low, "number", description=f"Lower end of the 95 % interval of {name}."),
        Column(high, "number", description=f"Upper end of the 95 % interval of {name}."),
    ]


def columns_of(record: type, prefix: str = "", *, there: bool = True) -> list[Column]:
    """The columns of one of our dataclasses; what it has many of is a table of its own."""
    found: list[Column] = []
    for key, kinds, optional in _parts(record):
        name, required = f"{prefix}{key}", there and not optional
        if kinds <= {Quantity, Bounds}:
            found += figure(name)
        elif dataclasses.is_dataclass(kind := next(iter(kinds))):
            found += columns_of(typing.cast(type, kind), f"{name}_", there=required)
        elif typing.get_origin(kind) is typing.Literal:
            found.append(Column(name, "string", required, typing.get_args(kind)))
        elif typing.get_origin(kind) is tuple:
            if not _many_records(kind):
                found.append(Column(name, "string", description="Separated by spaces."))
        else:
            found.append(Column(name, _TYPES[kind], required))
    return found


def cells_of(record: type, found: Mapping[str, Any] | None, prefix: str = "") -> dict[str, Any]:
    """What stands in these columns for a record as its document has it."""
    cells: dict[str, Any] = {}
    for key, kinds, _ in _parts(record):
        name, held = f"{prefix}{key}", (found or {}).get(key)
        if kinds <= {Quantity, Bounds}:
            ends = ("value", "low", "high")
            cells |= zip(triple(name), ((held or {}).get(end) for end in ends), strict=True)
        elif dataclasses.is_dataclass(kind := next(iter(kinds))):
            cells |= cells_of(typing.cast(type, kind), held, f"{name}_")
        elif typing.get_origin(kind) is tuple:
            if not _many_records(kind):
                cells[name] = " ".join("" if part is None else str(part) for part in held or ())
        else:
            cells[name] = held
    return cells


def _parts(record: type) -> Iterator[tuple[str, set[Any], bool]]:
    """Each field's key in a document, what it can be but None, and whether it can be None."""
    hints = typing.get_type_hints(record)
    for field in dataclasses.fields(record):
        hint = hints[field.name]
        union = typing.get_origin(hint) in (types.UnionType, typing.Union)
        kinds = set(typing.get_args(hint)) if union else {hint}
        yield key_of(field), kinds - {types.NoneType}, types.NoneType in kinds


def _many_records(kind: Any) -> bool:
    return dataclasses.is_dataclass(typing.get_args(kind)[0])
