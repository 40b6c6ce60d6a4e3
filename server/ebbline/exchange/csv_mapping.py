"""How the columns of a CSV log are to be read: what the user states, nothing guessed."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields, validates_schema

from ebbline.errors import InputError
from ebbline.exchange import json_text
from ebbline.exchange.fields import MISSING, Choice, Plain, Text, TimeZone, Whole
from ebbline.exchange.json_text import shown
from ebbline.exchange.schemas import check
from ebbline.measure.units import factor

DELIMITERS = (",", ";", "\t")
DECIMALS = (".", ",")
ENCODINGS = ("utf-8", "utf-16", "cp1252")
PLAIN_TIMES = ("iso8601", "epoch_s", "epoch_ms", "elapsed_s", "elapsed_ms")
ELAPSED = ("elapsed_s", "elapsed_ms")
FRACTION = 0.01  # one per cent

# Each quantity's units with what a value in it is multiplied by.
UNITS: dict[str, dict[str, float]] = {
    "voltage": {"V": 1.0, "mV": 1e-3},
    "current": {"A": 1.0, "mA": 1e-3},
    "power": {"kW": 1.0, "W": 1e-3},
    "speed": {"m/s": 1.0, "km/h": factor("km/h", "m/s"), "mph": factor("mph", "m/s")},
    "soc": {"%": 1.0, "1": 1 / FRACTION},
    "lat": {"deg": 1.0},
    "lon": {"deg": 1.0},
    "altitude": {"m": 1.0, "ft": factor("ft", "m")},
    "accuracy": {"m": 1.0},
}
SIGNED = ("current", "power")  # those that say which way they count
SIGNS = ("positive", "negative")
SPEED_SOURCES = ("car", "receiver")


@dataclass(frozen=True, slots=True)
class TimeColumn:
    """When a row was. ``clock_column``: date in one column, time of day in this other."""

    column: str | int
    format: str
    clock_column: str | int | None = None
    zone: str | None = None
    start: str | None = None


@dataclass(frozen=True, slots=True)
class ValueColumn:
    """One quantity: its column by header or by number (from 1), and its unit.

    ``discharge``: the sign that current or power out of the pack has in the file. ``source``: who
    measured a speed.
    """

    column: str | int
    unit: str
    discharge: str | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Mapping:
    """A whole file's reading. Lines count from 1; ``missing``: texts that mean 'not known'."""

    time: TimeColumn
    values: dict[str, ValueColumn]
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    header_line: int = 1
    first_data_line: int = 2
    missing: tuple[str, ...] = ("",)


class Column(Plain):
    """A column by its header, or by its number counted from 1."""

    def _deserialize(
        self, value: Any, attr: str | None, data: MappingOf[str, Any] | None, **kwargs: Any
    ) -> str | int:
        if isinstance(value, str) or (type(value) is int and value >= 1):
            return value
        raise ValidationError(f"is {shown(value)}; a header's text or a number from 1 is needed")


class TimeFormat(Text):
    """One of the plain forms, or a pattern of date and time with % signs."""

    def _deserialize(
        self, value: Any, attr: str | None, data: MappingOf[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if text not in PLAIN_TIMES and "%" not in text:
            raise ValidationError(
                f"is {shown(text)}; it must be one of {', '.join(PLAIN_TIMES)}, or a pattern such "
                "as %d.%m.%Y %H:%M:%S"
            )
        if "%p" in text and "%H" in text:
            raise ValidationError(
                f"is {shown(text)}, where %H counts 24 hours and leaves %p (AM, PM) unread; write "
                "%I for a clock of twelve"
            )
        if "%I" in text and "%p" not in text:
            raise ValidationError(
                f"is {shown(text)}, where nothing says morning or afternoon; %I goes with %p"
            )
        return text


class Closed(Schema):
    """A misspelt key must fail, not vanish."""

    class Meta:
        unknown = RAISE

    error_messages = {  # noqa: RUF012  # marshmallow's own spelling
        "type": "must be an object",
        "unknown": "is not known here",
    }


class TimeSchema(Closed):
    """When a row was."""

    column = Column(required=True)
    format = TimeFormat(required=True)
    clock_column = Column()
    zone = TimeZone()
    start = Text()

    @validates_schema
    def _check_start(self, data: MappingOf[str, Any], **_kwargs: Any) -> None:
        elapsed = data["format"] in ELAPSED
        if elapsed != (data.get("start") is not None):
            problem = f"is needed with {data['format']}" if elapsed else "belongs to elapsed times"
            raise ValidationError(problem, "start")
        if data.get("clock_column") is not None and data["format"] in PLAIN_TIMES[1:]:
            raise ValidationError(f"does not go with {data['format']}", "clock_column")


class ValueSchema(Closed):
    """One quantity."""

    column = Column(required=True)
    unit = Text(required=True)
    discharge = Choice(SIGNS)
    source = Choice(SPEED_SOURCES)


class MappingSchema(Closed):
    """How to read a CSV log: which column is what, in which unit, from which zone."""

    delimiter = Choice(DELIMITERS, required=True)
    decimal = Choice(DECIMALS, required=True)
    encoding = Choice(ENCODINGS)
    header_line = Whole(low=1, high=1000)
    first_data_line = Whole(low=2, high=2000)
    missing = fields.List(Text(required=True), allow_none=True)
    time = fields.Nested(TimeSchema, required=True, error_messages=MISSING)
    voltage = fields.Nested(ValueSchema, allow_none=True)
    current = fields.Nested(ValueSchema, allow_none=True)
    power = fields.Nested(ValueSchema, allow_none=True)
    speed = fields.Nested(ValueSchema, allow_none=True)
    soc = fields.Nested(ValueSchema, allow_none=True)
    lat = fields.Nested(ValueSchema, allow_none=True)
    lon = fields.Nested(ValueSchema, allow_none=True)
    altitude = fields.Nested(ValueSchema, allow_none=True)
    accuracy = fields.Nested(ValueSchema, allow_none=True)


_MAPPING = MappingSchema()


def parse_mapping(text: bytes) -> dict[str, Any]:
    """A mapping as JSON; a whole proposal is taken for the mapping in it.

    Raises:
        InputError: not JSON, or no object.
    """
    try:
        raw = json_text.parse(text)
    except InputError as error:
        raise InputError("mapping", error.problem) from None
    if isinstance(raw, dict) and isinstance(raw.get("mapping"), dict):
        raw = raw["mapping"]
    if not isinstance(raw, dict):
        raise InputError("mapping", f"is {shown(raw)}; an object is needed")
    return raw


def to_mapping(raw: dict[str, Any], zone: str | None = None) -> Mapping:
    """Check a mapping and take it over.

    Args:
        raw: the mapping as parsed.
        zone: a time zone stated apart from it.

    Raises:
        InputError: names the key, for example ``mapping.current.discharge``.
    """
    check(_MAPPING, raw, "mapping")
    values = {
        quantity: ValueColumn(**{key: value for key, value in raw[quantity].items()})
        for quantity in UNITS
        if raw.get(quantity) is not None
    }
    for quantity, value in values.items():
        _check_value(quantity, value)
    for one, other in (("lat", "lon"), ("lon", "lat")):
        if one in values and other not in values:
            raise InputError(f"mapping.{other}", f"is missing where {one} is given")
    for quantity in ("altitude", "accuracy"):
        if quantity in values and "lat" not in values:
            raise InputError(f"mapping.{quantity}", "is of no use without lat and lon")
    if not values:
        raise InputError("mapping", "names no column but the time")
    return Mapping(
        time=TimeColumn(**{**raw["time"], "zone": _zone(raw["time"].get("zone"), zone)}),
        values=values,
        delimiter=raw["delimiter"],
        decimal=raw["decimal"],
        encoding=raw.get("encoding") or "utf-8",
        header_line=raw.get("header_line") or 1,
        first_data_line=_first_data_line(raw),
        missing=("",) if raw.get("missing") is None else tuple(raw["missing"]),
    )


def start_of(time: TimeColumn) -> datetime:
    """The moment that elapsed seconds count from.

    Raises:
        InputError: no such time, or one without an offset and without a zone.
    """
    assert time.start is not None
    where = "mapping.time.start"
    if not re.fullmatch(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d.*)?", time.start):
        problem = f"is {shown(time.start)}; a time such as 2026-03-02T15:04:05+01:00 is needed"
        raise InputError(where, problem)
    try:
        start = datetime.fromisoformat(time.start.upper())
    except ValueError as error:
        raise InputError(where, f"is {shown(time.start)}, no such time: {error}") from None
    if start.tzinfo is not None:
        return start
    if time.zone is None:
        raise InputError(where, f"is {shown(time.start)}; state its offset or a zone")
    zone = zoneinfo.ZoneInfo(time.zone)
    early, late = (start.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() != late.utcoffset():
        problem = f"is {shown(time.start)}, which happens twice or never in {time.zone}"
        raise InputError(where, problem)
    return early


def _check_value(quantity: str, value: ValueColumn) -> None:
    where = f"mapping.{quantity}"
    if value.unit not in UNITS[quantity]:
        units = " or ".join(UNITS[quantity])
        raise InputError(f"{where}.unit", f"is {shown(value.unit)}; {quantity} is in {units}")
    if quantity in SIGNED and value.discharge is None:
        problem = "is missing: which sign has what flows out of the pack, positive or negative?"
        raise InputError(f"{where}.discharge", problem)
    if quantity not in SIGNED and value.discharge is not None:
        raise InputError(f"{where}.discharge", f"{quantity} has no direction")
    if quantity != "speed" and value.source is not None:
        raise InputError(f"{where}.source", "belongs to speed only")


def _zone(stated: str | None, apart: str | None) -> str | None:
    if apart is None:
        return stated
    if stated not in (None, apart):
        raise InputError("zone", f"is {apart}, but the mapping says {stated}")
    try:
        zoneinfo.ZoneInfo(apart)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError("zone", f"is {shown(apart)}, not a known time zone") from None
    return apart


def _first_data_line(raw: dict[str, Any]) -> int:
    header_line: int = raw.get("header_line") or 1
    first: int = raw.get("first_data_line") or header_line + 1
    if first <= header_line:
        raise InputError("mapping.first_data_line", f"is {first}, not below the header")
    return first
