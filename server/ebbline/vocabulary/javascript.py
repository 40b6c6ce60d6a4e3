"""The pages' copy of the vocabulary: ``python -m ebbline.vocabulary`` writes it anew.

A file beside the pages' own modules and not an answer made on request: the offline copy and its
version come from the files as they lie there, the type check of ``pwa/`` reads it, and a page
needs nothing but a server of files. A test compares it with the table.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from ebbline.vocabulary import (
    DOERS,
    EVENTS,
    FACTS,
    GROUPS,
    PHASES,
    READINGS,
    RESERVE_ENDS,
    ZERO_BASES,
)

TABLE = Path(__file__).parents[3] / "pwa" / "shared" / "vocabulary-table.js"
_HEAD = """\
// @ts-check
/** Made by `python -m ebbline.vocabulary` from server/ebbline/vocabulary/: change that. */
"""
_PARTS: dict[str, tuple[str, Mapping[Any, Any]]] = {
    "PHASES": ('Record<import("./vocabulary.js").Phase, string>', PHASES),
    "GROUPS": ("Record<string, string>", GROUPS),
    "DOERS": ("Record<string, string>", DOERS),
    "EVENTS": (
        'Record<string, import("./vocabulary.js").EventKind>',
        {kind: asdict(row) for kind, row in EVENTS.items()},
    ),
    "READINGS": (
        'Record<string, import("./vocabulary.js").ReadingKind>',
        {quantity: asdict(row) for quantity, row in READINGS.items()},
    ),
    "FACTS": (
        'Record<string, import("./vocabulary.js").Fact>',
        {f'"{path}"': asdict(row) for path, row in FACTS.items()},
    ),
}


def javascript() -> str:
    """The table as an ES module, one row a line."""
    lists = f"""
export const ZERO_BASES = {json.dumps(ZERO_BASES)};
export const RESERVE_ENDS = {json.dumps(RESERVE_ENDS)};
"""
    return _HEAD + lists + "".join(_part(name, *part) for name, part in _PARTS.items())


def _part(name: str, kind: str, rows: Mapping[Any, Any]) -> str:
    lines = [f"  {key}: {_json(row)},\n" for key, row in rows.items()]
    return f"\n/** @type {{{kind}}} */\nexport const {name} = {{\n{''.join(lines)}}};\n"


def _json(row: object) -> str:
    return json.dumps(_said(row), ensure_ascii=False)


def _said(row: object) -> object:
    """Without what says nothing: every phone gets this table."""
    if not isinstance(row, dict):
        return row
    return {
        key: _said(value)
        for key, value in row.items()
        if not (value is None or value is False or value in ({}, ()))
    }
