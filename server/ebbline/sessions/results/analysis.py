"""What a session file's document means; needs no database."""

from __future__ import annotations

from typing import Any

from ebbline.errors import MeasureError
from ebbline.exchange.view import to_session
from ebbline.measure.analysis import analyze
from ebbline.records.curves import Analysis


def analyze_document(document: dict[str, Any]) -> Analysis:
    """Analyse a session file's document.

    Raises:
        MeasureError: the core could not work on the evidence.
    """
    try:
        return analyze(to_session(document))
    except (ArithmeticError, LookupError, ValueError) as error:
        # What numerical code raises on evidence that nobody foresaw: one session's trouble, which
        # must not take the list of all sessions with it.
        kind = type(error).__name__
        raise MeasureError(f"the analysis failed on this evidence ({kind}: {error})") from error
