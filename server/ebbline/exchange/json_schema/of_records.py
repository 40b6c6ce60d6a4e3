"""What a record looks like in a document, as JSON Schema, read off the record itself."""

from __future__ import annotations

import dataclasses
import types
import typing
from typing import Any
from uuid import UUID

from ebbline.exchange.fields import UUID_FORM
from ebbline.exchange.plain import key_of

PLAIN = {float: "number", int: "integer", str: "string", bool: "boolean", types.NoneType: "null"}

Described = dict[str, Any]


def object_of(record: type, definitions: dict[str, Described]) -> Described:
    """One of our dataclasses: its fields in their order, all of which are there."""
    hints = typing.get_type_hints(record)
    keys = {key_of(field): hints[field.name] for field in dataclasses.fields(record)}
    return {
        "type": "object",
        "description": " ".join((record.__doc__ or "").replace("``", "").split()),
        "properties": {key: of(hint, definitions) for key, hint in keys.items()},
        "required": list(keys),
    }


def of(hint: Any, definitions: dict[str, Described]) -> Described:
    """What a value with this annotation looks like; ``definitions`` gains what it points to."""
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        if all(part in PLAIN for part in parts):
            return {"type": [PLAIN[part] for part in parts]}
        return {"anyOf": [of(part, definitions) for part in parts]}
    if origin is tuple:
        if parts[-1] is Ellipsis:
            return {"type": "array", "items": of(parts[0], definitions)}
        items = [of(part, definitions) for part in parts]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "items": False}
    if origin is typing.Literal:
        return {"enum": list(parts)}
    if dataclasses.is_dataclass(hint):
        return _ref(typing.cast(type, hint), definitions)
    if hint is UUID:
        return {"type": "string", "format": "uuid", "pattern": f"^{UUID_FORM.pattern}$"}
    return {"type": PLAIN[hint]}


def _ref(record: type, definitions: dict[str, Described]) -> Described:
    name = record.__name__
    if name not in definitions:
        definitions[name] = {}
        definitions[name] = object_of(record, definitions)
    return {"$ref": f"#/$defs/{name}"}
