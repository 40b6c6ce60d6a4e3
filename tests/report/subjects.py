"""Sample sessions and changed copies of them, analysed, as publications take them."""

from __future__ import annotations

import copy
import hashlib
from functools import cache
from pathlib import Path
from typing import Any

import orjson

from ebbline.report.figures import Choice, Units
from ebbline.report.subject import Subject
from ebbline.sessions.results.analysis import analyze_document

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
FULL, ROUGH, EARLY, LAPS = "full-run", "rough-evidence", "early-shutdown", "lap-check"


@cache
def _read(name: str) -> bytes:
    return (SAMPLES / f"{name}.ebbline.json").read_bytes()


def document_of(name: str) -> dict[str, Any]:
    """A copy of a sample's document, to change at will."""
    document: dict[str, Any] = copy.deepcopy(orjson.loads(_read(name)))
    return document


@cache
def sample(name: str, units: Choice = "km") -> Subject:
    """A sample as it is."""
    return subject_of(document_of(name), units)


def subject_of(document: dict[str, Any], units: Choice = "km") -> Subject:
    """Any document, analysed."""
    digest = hashlib.sha256(orjson.dumps(document)).hexdigest()
    return Subject(document, analyze_document(document), digest, Units(units))
