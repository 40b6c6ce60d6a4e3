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
from ebbline.records.comparison import Comparison, Pair
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
        inner = [part for part in parts if part is not types.NoneType]
        if len(inner) > 1 and not all(dataclasses.is_dataclass(part) for part in inner):
            return fields.Raw(allow_none=True, **options)
        return _field(inner[-1], allow_none=True, **options)  # Bounds take what a Quantity says
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


def _document(of: str, **described: fields.Field[Any]) -> dict[str, fields.Field[Any]]:
    return {
        "format": fields.String(required=True, validate=validate.Equal(of)),
        "version": fields.Integer(required=True, validate=validate.Equal(1)),
        "engine": fields.String(required=True),
        **described,
    }


CurvesSchema = schema_of(Curves)
ComparisonSchema = _closed(
    "ComparisonDocument",
    _document(
        "ebbline-comparison",
        **schema_of(Comparison)._declared_fields,
        behind=fields.List(
            fields.String(),
            required=True,
            metadata={"description": "Left out until their figures are renewed."},
        ),
    ),
)
PairSchema = _closed("PairDocument", _document("ebbline-pair", **schema_of(Pair)._declared_fields))
ResultSchema = _closed(
    "ResultDocument",
    _document(
        "ebbline-result",
        input_sha256=fields.String(required=True, validate=validate.Length(equal=64)),
        **schema_of(Result)._declared_fields,
    ),
)
