"""What the session file's fields and small objects take, as JSON Schema.

JSON Schema's own limits stay: ``5.0`` is an integer to it, a format such as 'date-time' is only
told, and no value is held against another one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import singledispatch
from typing import Any

from marshmallow import Schema, fields

from ebbline.exchange.fields import (
    EARLIEST_MS,
    LATEST_MS,
    RFC3339,
    SHA256,
    UUID_FORM,
    Choice,
    Flag,
    Moment,
    Name,
    Real,
    SessionId,
    Sha256,
    Text,
    WallTime,
    Whole,
)
from ebbline.exchange.json_text import LARGEST_INTEGER, SMALLEST_INTEGER
from ebbline.exchange.schemas import (
    Band,
    Delay,
    DelaySchema,
    EventSchema,
    ProtocolSchema,
    ReadingSchema,
)
from ebbline.vocabulary import EVENTS, READINGS, ReadingKind, Value

Described = dict[str, Any]

_GIVEN = {"type": ["string", "number", "boolean", "array", "object"]}  # anything but null
_NAME = {"type": "string", "minLength": 1, "maxLength": 100, "pattern": "^[^\\u0000]*$"}


class Definitions:
    """Descriptions that others point to, by name."""

    def __init__(self) -> None:
        self.found: dict[str, Described] = {}

    def ref(self, schema: type[Schema]) -> Described:
        """A pointer to one of our objects, described once."""
        name = schema.__name__.removesuffix("Schema")
        if name not in self.found:
            self.found[name] = {}
            self.found[name] = object_of(schema, self)
        return {"$ref": f"#/$defs/{name}"}


def object_of(schema: type[Schema], definitions: Definitions) -> Described:
    """An object: its keys, which of them it must have, and its rules across keys."""
    known = schema().fields
    described: Described = {
        "type": "object",
        "description": " ".join((schema.__doc__ or "").split()),
        "properties": {key: of(field, definitions) for key, field in known.items()},
    }
    required = [key for key, field in known.items() if field.required]
    if required:
        described["required"] = required
    rules = _RULES.get(schema)
    if rules:
        described["allOf"] = rules()
    return described


def of(field: fields.Field[Any], definitions: Definitions) -> Described:
    """What one key takes, null too where it may be."""
    if isinstance(field, fields.Nested):
        described = definitions.ref(type(field.schema))
    elif isinstance(field, fields.List):
        described = {"type": "array", "items": of(field.inner, definitions)}
    else:
        described = own(field)
    said = field.metadata.get("description")
    described = nullable(described) if field.allow_none else described
    return {**described, "description": said} if said else described


def nullable(described: Described) -> Described:
    """The same, or null."""
    if "enum" in described:
        described = {**described, "enum": [*described["enum"], None]}
    if isinstance(described.get("type"), str):
        return {**described, "type": [described["type"], "null"]}
    return {"anyOf": [*described.get("anyOf", [described]), {"type": "null"}]}


def column(items: Described, *, nulls: bool) -> Described:
    """A column of values."""
    return {"type": "array", "items": nullable(items) if nulls else items}


def number(low: float = -math.inf, high: float = math.inf, above: float = -math.inf) -> Described:
    """A number that can be written again, within bounds."""
    return {
        "type": "number",
        "minimum": max(low, SMALLEST_INTEGER),
        "maximum": min(high, LARGEST_INTEGER),
        **({"exclusiveMinimum": above} if above > -math.inf else {}),
    }


@singledispatch
def own(field: fields.Field[Any]) -> Described:
    """What a field of ours takes where it isn't null.

    Raises:
        TypeError: a field that nobody has described here.
    """
    raise TypeError(f"{type(field).__name__} has no description in JSON Schema")


@own.register
def _real(field: Real) -> Described:
    return number(field.low, field.high, field.above)


@own.register
def _whole(field: Whole) -> Described:
    return {**_real(field), "type": "integer"}


@own.register
def _moment(field: Moment) -> Described:
    return {"type": "integer", "minimum": EARLIEST_MS, "exclusiveMaximum": LATEST_MS}


@own.register
def _flag(field: Flag) -> Described:
    return {"type": "boolean"}


@own.register
def _text(field: Text) -> Described:
    return {"type": "string"}


@own.register
def _name(field: Name) -> Described:
    return dict(_NAME)


@own.register
def _choice(field: Choice) -> Described:
    return {"type": "string", "enum": list(field.words)}


@own.register
def _session_id(field: SessionId) -> Described:
    return {"type": "string", "format": "uuid", "pattern": f"^{UUID_FORM.pattern}$"}


@own.register
def _sha256(field: Sha256) -> Described:
    return {"type": "string", "pattern": f"^{SHA256.pattern}$"}


@own.register
def _wall_time(field: WallTime) -> Described:
    return {"type": "string", "format": "date-time", "pattern": f"^{RFC3339.pattern}$"}


@own.register
def _delay(field: Delay) -> Described:
    mean = DelaySchema().fields["mean"]
    return {"anyOf": [object_of(DelaySchema, Definitions()), own(mean)]}


@own.register
def _band(field: Band) -> Described:
    return {"type": "array", "items": number(low=0), "minItems": 2, "maxItems": 2}


# --- rules across keys, from the tables that the program checks them by ---------------------------


def _when(condition: Mapping[str, Described], **then: Any) -> Described:
    """Where all these keys are there and are so, the rest holds."""
    return {"if": {"properties": dict(condition), "required": list(condition)}, "then": then}


def _has(key: str) -> Described:
    return {"properties": {key: _GIVEN}, "required": [key]}


def _withdrawal() -> Described:
    """What withdraws a record names it; anything but no is taken for yes."""
    return _when({"withdraws": {"not": {"enum": [False, None, 0, "", [], {}]}}}, **_has("corrects"))


def _bounds(known: Value | ReadingKind) -> Described:
    bounds = {"minimum": known.low, "maximum": known.high}
    return {word: bound for word, bound in bounds.items() if bound is not None}


def _event_rules() -> list[Described]:
    rules = [_withdrawal()]
    for kind, row in EVENTS.items():
        if row.value is None:
            continue
        unit = {"unit": {"enum": list(row.value.units)}} if len(row.value.units) > 1 else {}
        held = {"value": bounds} if (bounds := _bounds(row.value)) else {}
        if unit or held:
            given = {"kind": {"const": kind}, "value": {"type": "number"}}
            rules.append(_when(given, properties={**unit, **held}, required=list(unit)))
    return rules


def _reading_rules() -> list[Described]:
    rules: list[Described] = [
        {"anyOf": [_has("value"), _has("corrects")]},
        _withdrawal(),
    ]
    number_ = {"type": "number"}
    for key, other in (("from", "t_to_ms"), ("t_to_ms", "from")):
        rules.append(_when({"value": number_, key: number_}, **_has(other)))
    for quantity, row in READINGS.items():
        this = {"quantity": {"const": quantity}}
        held = {"unit": {"enum": list(row.units)}, "value": _bounds(row)}
        rules.append(_when(this, properties=held))
        if bounds := _bounds(row):
            rules.append(_when({**this, "value": number_}, properties={"from": bounds}))
    return rules


def _protocol_rules() -> list[Described]:
    return [_when({"zero_basis": {"const": "moment"}}, **_has("zero_ms"))]


_RULES: dict[type[Schema], Callable[[], list[Described]]] = {
    EventSchema: _event_rules,
    ReadingSchema: _reading_rules,
    ProtocolSchema: _protocol_rules,
}
