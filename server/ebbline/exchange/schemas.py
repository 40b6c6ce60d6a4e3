"""Schemas of a session file's small objects. They check and never change: unknown keys survive.

Reference: the session file, version 1. Bounds beside each key say what is refused.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, get_args

from marshmallow import INCLUDE, Schema, ValidationError, fields, validates_schema

from ebbline.errors import InputError
from ebbline.exchange.fields import (
    MISSING,
    Choice,
    Flag,
    Moment,
    Name,
    Plain,
    Real,
    SessionId,
    Sha256,
    Text,
    TimeZone,
    WallTime,
    Whole,
)
from ebbline.exchange.json_text import join, shown
from ebbline.records.setup import FilmPlacedBy
from ebbline.vocabulary import (
    EVENTS,
    FACTS,
    READINGS,
    RESERVE_ENDS,
    ROUNDINGS,
    WHICH_ENDS,
    ZERO_BASES,
    Fact,
    ReadingKind,
    Value,
)

WARNING_CLASSES = () if EVENTS["warning"].choices is None else EVENTS["warning"].choices.words
_CLOCK_OFFSET_MS = 1e13  # three centuries: beyond it no device clock is merely wrong


class Open(Schema):
    """An object whose unknown keys are kept."""

    class Meta:
        unknown = INCLUDE

    error_messages = {"type": "must be an object"}  # noqa: RUF012  # marshmallow's own spelling


def _part(schema: type[Schema], *, required: bool = False) -> fields.Nested:
    return fields.Nested(
        schema,
        required=required,
        allow_none=not required,
        error_messages=MISSING,
    )


def _list_of(schema: type[Schema]) -> fields.List[Any]:
    return fields.List(
        fields.Nested(schema),
        allow_none=True,
        error_messages={"invalid": "must be a list"},
    )


class SessionSchema(Open):
    """Which session this is."""

    id = SessionId(required=True)
    title = Text()
    started_at = WallTime()
    time_zone = TimeZone()
    notes = Text()


def _facts(place: str, *required: str) -> dict[str, Plain]:
    """The vocabulary's facts directly below a place of the set-up."""
    keys = {path.rpartition(".")[2]: row for path, row in FACTS.items()
            if path.rpartition(".")[0] == place}  # fmt: skip
    return {key: _fact(row, required=key in required) for key, row in keys.items()}


def _fact(row: Fact, *, required: bool) -> Plain:
    if row.kind == "text":
        return Text(required=required)
    if row.kind == "flag":
        return Flag(required=required)
    bounds = {
        "low": -math.inf if row.low is None else row.low,
        "high": math.inf if row.high is None else row.high,
        "above": -math.inf if row.above is None else row.above,
    }
    return (Whole if row.kind == "whole" else Real)(required=required, **bounds)


class PackSchema(Open):
    """The traction battery: as its maker states it, and as we measured it."""

    class Meta(Open.Meta):
        include = _facts("vehicle.pack")


class RoadLoadSchema(Open):
    """Coefficients of the force at steady speed."""

    class Meta(Open.Meta):
        include = _facts("vehicle.road_load", "a_n", "b_n_per_mps", "c_n_per_mps2")


class VehicleSchema(Open):
    """The car under test."""

    class Meta(Open.Meta):
        include = _facts("vehicle")

    label = Text()
    pack = _part(PackSchema)
    road_load = _part(RoadLoadSchema)


class ConditionsSchema(Open):
    """How it was that day."""

    class Meta(Open.Meta):
        include = _facts("conditions")


class DelaySchema(Open):
    """A tap's lateness in seconds: mean and standard deviation."""

    mean = Real(required=True, low=-86_400, high=86_400)
    sd = Real(required=True, low=0, high=86_400)


class Delay(Plain):
    """How late a tap is: ``{"mean", "sd"}``, or the mean alone, in seconds."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> Any:
        if isinstance(value, dict):
            errors = DelaySchema().validate(value)
            if errors:
                raise ValidationError(errors)
            return value
        return Real(low=-86_400, high=86_400).deserialize(value)


class Band(Plain):
    """Two speeds, the lower one first."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> Any:
        if not isinstance(value, list) or len(value) != 2:
            raise ValidationError("must be a list of two speeds")
        speed = Real(required=True, low=0)
        for i, bound in enumerate(value):
            try:
                speed.deserialize(bound)
            except ValidationError as error:
                raise ValidationError({i: error.messages}) from None
        if value[0] > value[1]:
            raise ValidationError(f"runs from {value[0]} down to {value[1]}")
        return value


class ProtocolSchema(Open):
    """How the run was to be driven."""

    start_soc_pct = Real(low=0, high=100)
    speed_band_kmh = Band()
    tap_delay_s = _part(DelaySchema)
    reading_delay_s = _part(DelaySchema)
    zero_basis = Choice(ZERO_BASES)
    zero_ms = Moment()
    reserve_end = Choice(RESERVE_ENDS)
    which_end = Choice(WHICH_ENDS)
    charging_efficiency = Real(above=0, high=1)
    held_speed_kmh = Real(above=0)

    @validates_schema
    def _check_zero(self, data: Mapping[str, Any], **_kwargs: Any) -> None:
        if data.get("zero_basis") == "moment" and data.get("zero_ms") is None:
            raise ValidationError("is missing; zero_basis 'moment' needs it", "zero_ms")


class GateSchema(Open):
    """The line that ends a lap."""

    lat = Real(required=True, low=-90, high=90)
    lon = Real(required=True, low=-180, high=180)
    heading_deg = Real(required=True, low=0, high=360)
    half_width_m = Real(required=True, above=0)


class CheckedLapSchema(Open):
    """What an earlier lap check found on the same course."""

    length_m = Real(required=True, above=0)
    sd_m = Real(required=True, above=0)


class CourseSchema(Open):
    """The closed course."""

    label = Text()
    surveyed_lap_m = Real(above=0)
    surveyed_lap_sd_m = Real(low=0)
    closed = Flag()
    gate = _part(GateSchema)
    checked_lap = _part(CheckedLapSchema)
    full_throttle_grade_pct = Real(low=-100, high=100)
    full_throttle_grade_sd_pct = Real(low=0)


class ExclusionSchema(Open):
    """A stretch of one device's fixes that is kept but not used."""

    device = Name(required=True)
    from_ms = Moment(required=True)
    to_ms = Moment(required=True)
    reason = Text()

    @validates_schema
    def _check_order(self, data: Mapping[str, Any], **_kwargs: Any) -> None:
        if data["to_ms"] < data["from_ms"]:
            raise ValidationError("lies before from_ms", "to_ms")


class FirstFrameSchema(Open):
    """Where a film begins in session time, and what tells it; written as a file is read."""

    t_ms = Moment(required=True)
    sd_ms = Real(low=0, high=_CLOCK_OFFSET_MS)
    by = Choice(get_args(FilmPlacedBy), required=True)


class DeviceSchema(Open):
    """A recorder and its clock."""

    id = Name(required=True)
    label = Text()
    clock_offset_ms = Real(low=-_CLOCK_OFFSET_MS, high=_CLOCK_OFFSET_MS)
    clock_offset_sd_ms = Real(low=0, high=_CLOCK_OFFSET_MS)
    kind = Text(description="'film', whose records may count from its first frame; or another.")
    frame_rate = Real(above=0, high=100_000)
    first_frame = _part(FirstFrameSchema)


class SetupSchema(Open):
    """The document without what the run added to it."""

    session = _part(SessionSchema, required=True)
    vehicle = _part(VehicleSchema)
    conditions = _part(ConditionsSchema)
    protocol = _part(ProtocolSchema)
    course = _part(CourseSchema)
    devices = _list_of(DeviceSchema)
    excluded = _list_of(ExclusionSchema)


class EventSchema(Open):
    """One tap."""

    class Meta(Open.Meta):
        include = {  # noqa: RUF012  # marshmallow's own way to a key that is no name in Python
            "class": Text(description=f"Of a warning: {', '.join(WARNING_CLASSES)}, or another."),
            "by": Text(description="Who wrote it; in older files car or crew: see done_by."),
        }

    id = Name(required=True)
    device = Name(required=True)
    t_ms = Moment(required=True)
    kind = Name(required=True, description=f"{', '.join(EVENTS)}, or another: shown as a note.")
    text = Text()
    done_by = Text(description="Of what either may have done: car or crew.")
    value = Real()
    unit = Text()
    tap_delay_s = Delay()
    corrects = Name()
    withdraws = Flag()

    @validates_schema
    def _check_kind(self, data: Mapping[str, Any], **_kwargs: Any) -> None:
        _check_correction(data)
        kind, value = data["kind"], data.get("value")
        known = EVENTS[kind].value if kind in EVENTS else None
        if value is None or known is None:
            return
        if len(known.units) > 1:
            _check_unit(kind, data.get("unit"), known.units)
        _check_bounds(kind, value, known)


class ReadingSchema(Open):
    """What a display showed."""

    class Meta(Open.Meta):
        include = {"from": Real()}  # noqa: RUF012  # as above

    id = Name(required=True)
    device = Name(required=True)
    t_ms = Moment(required=True)
    t_to_ms = Moment()
    quantity = Choice(READINGS, required=True)
    value = Real()
    unit = Name(required=True)
    resolution = Real(above=0)
    rounding = Choice(ROUNDINGS)
    about = Flag()
    source = Text()
    photo = Sha256()
    corrects = Name()

    @validates_schema
    def _check_quantity(self, data: Mapping[str, Any], **_kwargs: Any) -> None:
        _check_correction(data)
        quantity, value = data["quantity"], data.get("value")
        known = READINGS[quantity]
        _check_unit(quantity, data["unit"], known.units)
        if value is None:
            if data.get("corrects") is None:
                raise ValidationError("is missing; only a correction may be without", "value")
        else:
            _check_bounds(quantity, value, known)
            _check_change(data, known)


class PhotoSchema(Open):
    """A photo's or a spoken note's place in time; its bytes travel in the archive."""

    sha256 = Sha256(required=True)
    t_ms = Moment()
    device = Name()
    media_type = Text(description="image/… or, of a spoken note, audio/…")


def check(schema: Schema, value: object, where: str) -> None:
    """Check one object.

    Raises:
        InputError: the first offence in the order of the schema's keys.
    """
    try:
        errors: Any = schema.validate(value)  # type: ignore[arg-type]  # it refuses non-objects
    except ValidationError as error:  # raised by a hook with more than one level
        errors = error.messages
    if not errors:
        return
    place = where
    while isinstance(errors, dict):
        key, errors = next(iter(errors.items()))
        if key != "_schema":
            place = f"{place}[{key}]" if isinstance(key, int) else join(place, str(key))
    raise InputError(place, str(errors[0] if isinstance(errors, list) else errors))


def _check_correction(data: Mapping[str, Any]) -> None:
    if data.get("corrects") is not None and data["corrects"] == data["id"]:
        raise ValidationError("names the record itself", "corrects")
    if data.get("withdraws") and data.get("corrects") is None:
        raise ValidationError("is true, but 'corrects' names nothing", "withdraws")


def _check_change(data: Mapping[str, Any], known: ReadingKind) -> None:
    before, until_ms = data.get("from"), data.get("t_to_ms")
    if before is None and until_ms is None:
        return
    if before is None:
        raise ValidationError("is missing; t_to_ms says that the display changed", "from")
    if until_ms is None:
        raise ValidationError("is missing; 'from' says that the display changed", "t_to_ms")
    if until_ms < data["t_ms"]:
        raise ValidationError("lies before t_ms", "t_to_ms")
    if before == data["value"]:
        raise ValidationError(f"is {before}, and so is value: it didn't change", "from")
    _check_bounds(data["quantity"], before, known, "from")


def _check_unit(name: str, unit: str | None, units: tuple[str, ...]) -> None:
    if unit not in units:
        raise ValidationError(f"is {shown(unit)}; {name} is in {' or '.join(units)}", "unit")


def _check_bounds(name: str, value: float, known: Value | ReadingKind, key: str = "value") -> None:
    low = -math.inf if known.low is None else known.low
    high = math.inf if known.high is None else known.high
    if not low <= value <= high:
        bounds = f"from {low:g} to {high:g}" if high < math.inf else f"never below {low:g}"
        raise ValidationError(f"is {value}; {name} is {bounds}", key)
