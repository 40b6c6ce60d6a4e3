"""What a session means: derived, cached under its input's hash and the engine, never edited."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.errors import MeasureError
from ebbline.exchange import result_document, session_file
from ebbline.exchange.curves_csv import curves_csv
from ebbline.exchange.gpx import track_gpx
from ebbline.measure import analysis
from ebbline.records import Analysis
from ebbline.sessions.files import export_document, sha256_of
from ebbline.sessions.setups import checked_setup
from ebbline.store import results, sessions
from ebbline.store.models import ResultRow

ANALYSES_KEPT = 4  # the desk asks for result and curves of one session one after the other


def analysis_of_document(document: dict[str, Any]) -> Analysis:
    """Analyse a session file's document; needs no database.

    Raises:
        MeasureError: the core could not work on the evidence.
    """
    try:
        return analysis.analyze(session_file.to_session(document))
    except (ArithmeticError, LookupError, ValueError) as error:
        # What numerical code raises on evidence that nobody foresaw: one session's trouble, which
        # must not take the list of all sessions with it.
        kind = type(error).__name__
        raise MeasureError(f"the analysis failed on this evidence ({kind}: {error})") from error


def result_of(db_session: Session, session_id: UUID) -> bytes:
    """The result document as JSON, from the cache when nothing was added since.

    Raises:
        NotFoundError: no such session.
        MeasureError: the core could not work on the evidence.
    """
    additions = sessions.find(db_session, session_id).additions
    held = results.cached(db_session, session_id, engine_id())
    if held is not None:
        return held
    found = analysed(db_session, session_id)
    document = result_document.dump(found.analysis.result, found.input_sha256)
    results.keep(
        db_session,
        ResultRow(
            session_id=session_id,
            input_sha256=found.input_sha256,
            engine=engine_id(),
            additions=additions,
            document=document,
        ),
    )
    return document


def trial(db_session: Session, session_id: UUID, setup: object) -> bytes:
    """The result document that a session would have under another set-up; nothing is stored.

    Raises:
        NotFoundError: no such session.
        InputError: the set-up is malformed or another session's.
        MeasureError: the core could not work on the evidence.
    """
    sessions.find(db_session, session_id)
    tried = checked_setup(session_id, setup)
    document = export_document(db_session, session_id, tried)
    result = analysis_of_document(document).result
    return result_document.dump(result, sha256_of(session_file.dump_document(document)))


def analysis_of(db_session: Session, session_id: UUID) -> Analysis:
    """A session's result with the curves behind it.

    Raises:
        NotFoundError: no such session.
        MeasureError: the core could not work on the evidence.
    """
    return analysed(db_session, session_id).analysis


@dataclass(frozen=True, slots=True)
class Analysed:
    """A session's document as it stood at one moment, what was found from it, and its hash."""

    document: dict[str, Any]
    analysis: Analysis
    input_sha256: str


def analysed(db_session: Session, session_id: UUID) -> Analysed:
    """A session's document together with what it means.

    Raises:
        NotFoundError: no such session.
        MeasureError: the core could not work on the evidence.
    """
    document = export_document(db_session, session_id)
    input_sha256 = sha256_of(session_file.dump_document(document))
    return Analysed(document, _recent.analysis(document, input_sha256), input_sha256)


class _Recent:
    """The last few analyses: a pure function's values, so every process may keep its own."""

    def __init__(self) -> None:
        self._held: OrderedDict[str, Analysis] = OrderedDict()
        self._turn = threading.Lock()  # two who ask at once wait for one computation

    def analysis(self, document: dict[str, Any], input_sha256: str) -> Analysis:
        with self._turn:
            held = self._held.get(input_sha256)
            if held is None:
                held = analysis_of_document(document)
                self._held[input_sha256] = held
            self._held.move_to_end(input_sha256)
            while len(self._held) > ANALYSES_KEPT:
                self._held.popitem(last=False)
            return held


_recent = _Recent()


def export_csv(db_session: Session, session_id: UUID) -> str:
    """The derived curves as CSV.

    Raises:
        NotFoundError: no such session.
    """
    return curves_csv(analysis_of(db_session, session_id).curves)


def export_gpx(db_session: Session, session_id: UUID) -> str:
    """The track and its events as GPX 1.1.

    Raises:
        NotFoundError: no such session.
    """
    return track_gpx(export_document(db_session, session_id))
