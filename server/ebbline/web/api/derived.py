"""Schemas of what is derived, read off the records themselves so that the two can't part."""

from __future__ import annotations

import dataclasses
import types
import typing
from functools import cache
from typing import Any

import numpy as np
from marshmallow import Schema, fields, validate

from ebbline.exchange.plain import key_of
from ebbline.records.curves import Curves
from ebbline.records.result import Result

PLAIN: dict[type, type[fields.Field[Any]]] = {
    float: fields.Float,
    int: fields.Integer,
    str: fields.String,
    bool: fields.Boolean,
}


@cache
def schema_of(record: type) -> type[Schema]:
    """The schema of one of our dataclasses: its fields in their order, all required."""
    hints = typing.get_type_hints(record)
    described = {
        key_of(field): _field(hints[field.name], required=True)
        for field in dataclasses.fields(record)
    }
    return _closed(record.__name__, described)


def _closed(name: str, described: dict[str, fields.Field[Any]]) -> type[Schema]:
    return Schema.from_dict(described, name=f"{name}Schema")


def _field(hint: Any, **options: Any) -> fields.Field[Any]:
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        inner = next(part for part in parts if part is not types.NoneType)
        return _field(inner, allow_none=True, **options)
    if origin is tuple:
        return fields.List(_field(parts[0]), **options)
    if origin is typing.Literal:
        return fields.String(validate=validate.OneOf(parts), **options)
    if origin is np.ndarray:
        return fields.List(_element(parts[1]), **options)
    if dataclasses.is_dataclass(hint):
        return fields.Nested(schema_of(typing.cast(type, hint)), **options)
    return PLAIN[hint](**options)


def _element(dtype: Any) -> fields.Field[Any]:
    (scalar,) = typing.get_args(dtype)
    if issubclass(scalar, np.floating):
        return fields.Float(allow_none=True)
    return fields.Boolean() if scalar is np.bool_ else fields.Integer()


CurvesSchema = schema_of(Curves)
ResultSchema = _closed(
    "ResultDocument",
    {
        "format": fields.String(required=True, validate=validate.Equal("ebbline-result")),
        "version": fields.Integer(required=True, validate=validate.Equal(1)),
        "session_id": fields.String(required=True),
        "input_sha256": fields.String(required=True, validate=validate.Length(equal=64)),
        "engine": fields.String(required=True),
        **{
            name: field
            for name, field in schema_of(Result)._declared_fields.items()
            if name != "session_id"
        },
    },
)
