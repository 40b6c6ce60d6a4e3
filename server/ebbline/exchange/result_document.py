"""The result document, and the curves as the desk draws them: records to JSON.

The keys of the document are those that name it, its input and its engine, then the fields of the
records in their order; see ``records.Result``.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np

from ebbline.engine import engine_id
from ebbline.errors import InputError
from ebbline.exchange import json_text
from ebbline.exchange.plain import plain
from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.curves import Band, Curves
from ebbline.records.result import Result

FORMAT, VERSION = "ebbline-result", 1


def to_document(result: Result, input_sha256: str) -> dict[str, Any]:
    """The result document, version 1, as plain values.

    Args:
        result: what the measuring core found.
        input_sha256: hex digest of the evidence it was found from.

    Raises:
        MeasureError: a figure is NaN or infinite: the core must say None, and why in a finding.
    """
    found = plain(result, "result")
    return {
        "format": FORMAT,
        "version": VERSION,
        "session_id": found.pop("session_id"),
        "input_sha256": input_sha256,
        "engine": engine_id(),
        **found,
    }


def dump(result: Result, input_sha256: str) -> bytes:
    """The result document as JSON; equal results give equal bytes."""
    return json_text.dump(to_document(result, input_sha256))


def curves_document(curves: Curves, max_points: int) -> dict[str, Any]:
    """The curves as lists, NaN as null, each base thinned evenly to at most ``max_points``.

    The first and the last point of each base always stay. Keys are the fields of
    ``records.Curves``; a band is ``{"value": […], "low": […], "high": […]}``.

    Raises:
        InputError: fewer than 2 points asked for.
    """
    if max_points < 2:
        raise InputError("max_points", f"is {max_points}; at least 2 are needed")
    drive = _kept(curves.t_ms.size, max_points)
    bases = {
        "recharge": _kept(curves.recharge_t_ms.size, max_points),
        "log": _kept(curves.log_t_ms.size, max_points),
        "fade": _kept(curves.fade_energy_kwh.size, max_points),
        "shown": _kept(curves.shown_t_ms.size, max_points),
        "available": _kept(curves.available_t_ms.size, max_points),
        "counted": _kept(curves.counted_t_ms.size, max_points),
    }
    document: dict[str, Any] = {}
    for field in dataclasses.fields(curves):
        rows = bases.get(field.name.partition("_")[0], drive)
        column = getattr(curves, field.name)
        if isinstance(column, Band):
            document[field.name] = {
                "value": _nullable(column.value[rows]),
                "low": _nullable(column.low[rows]),
                "high": _nullable(column.high[rows]),
            }
        elif column.dtype.kind == "f":
            document[field.name] = _nullable(column[rows])
        else:
            document[field.name] = column[rows].tolist()
    return document


def _kept(count: int, max_points: int) -> IntArray:
    if count <= max_points:
        return np.arange(count, dtype=np.int64)
    return np.rint(np.linspace(0, count - 1, max_points)).astype(np.int64)


def _nullable(values: FloatArray) -> list[float | None]:
    return [value if math.isfinite(value) else None for value in values.tolist()]
