"""The comparison document: records to JSON. Its keys are those that name it and its engine, then
the fields of ``records.comparison`` in their order.
"""

from __future__ import annotations

from typing import Any

from ebbline.engine import comparison_engine_id
from ebbline.exchange import json_text
from ebbline.exchange.plain import plain
from ebbline.records.comparison import Comparison, Pair

FORMAT, PAIR_FORMAT, VERSION = "ebbline-comparison", "ebbline-pair", 1


def to_document(comparison: Comparison) -> dict[str, Any]:
    """The comparison document, version 1, as plain values.

    Raises:
        MeasureError: a figure is NaN or infinite.
    """
    return _named(FORMAT, plain(comparison, "comparison"))


def pair_document(pair: Pair) -> dict[str, Any]:
    """Two sessions side by side, as plain values.

    Raises:
        MeasureError: a figure is NaN or infinite.
    """
    return _named(PAIR_FORMAT, plain(pair, "pair"))


def dump(comparison: Comparison) -> bytes:
    """The comparison document as JSON; equal comparisons give equal bytes."""
    return json_text.dump(to_document(comparison))


def _named(name: str, found: dict[str, Any]) -> dict[str, Any]:
    return {"format": name, "version": VERSION, "engine": comparison_engine_id(), **found}
