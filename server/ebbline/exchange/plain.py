"""Records to plain values that JSON can carry."""

from __future__ import annotations

import dataclasses
import math
from typing import Any
from uuid import UUID

import numpy as np

from ebbline.errors import MeasureError


def key_of(field: dataclasses.Field[Any]) -> str:
    """What a record's field is called in a document."""
    key: str = field.metadata.get("key", field.name)
    return key


def plain(value: Any, where: str) -> Any:
    """Records to objects, tuples to lists, numpy's scalars to Python's, UUIDs to text.

    Raises:
        MeasureError: a number is NaN or infinite; ``where`` and the field's name say which.
    """
    if dataclasses.is_dataclass(value):
        return {
            key_of(field): plain(getattr(value, field.name), f"{where}.{field.name}")
            for field in dataclasses.fields(value)
        }
    if isinstance(value, (tuple, list)):
        return [plain(part, f"{where}[{i}]") for i, part in enumerate(value)]
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        raise MeasureError(f"{where} is {value}; a figure that isn't known is None")
    return value
