"""What a session means: derived, cached under its input's hash and the engine, never edited."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.exchange import result_document, session_file
from ebbline.records.curves import Analysis
from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.sessions.records.document import document_of
from ebbline.sessions.records.setups import checked_setup
from ebbline.store import results, sessions
from ebbline.store.models import ResultRow

ANALYSES_KEPT = 4  # the desk asks for result and curves of one session one after the other


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
    document = document_of(db_session, session_id, tried)
    result = _analyze(document).result
    return result_document.dump(result, _sha256_of(document))


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
    document = document_of(db_session, session_id)
    input_sha256 = _sha256_of(document)
    analysis = _recent.get(input_sha256, lambda: _analyze(document))
    return Analysed(document, analysis, input_sha256)


_recent = RecentlyUsed[str, Analysis](ANALYSES_KEPT)


def _sha256_of(document: dict[str, Any]) -> str:
    return session_file.sha256_of(session_file.dump_document(document))


def _analyze(document: dict[str, Any]) -> Analysis:
    """Analyse a document. The core and the libraries it computes with are loaded with the first
    one: most of what a server is asked for needs none.
    """
    from ebbline.sessions.results.analysis import analyze_document

    return analyze_document(document)
