"""What was published of a session."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID

import orjson
from sqlalchemy.orm import Session

from ebbline.errors import MeasureError
from ebbline.exchange import session_file
from ebbline.sessions.publications.freezing import Found, freeze
from ebbline.sessions.records.document import document_of
from ebbline.sessions.records.setups import current_setup
from ebbline.sessions.results.headlines import account_of, figures_of
from ebbline.sessions.results.line import tell_line
from ebbline.sessions.results.results import result_of
from ebbline.store import publications, setups
from ebbline.store.content import same
from ebbline.store.models import PublicationRow

if TYPE_CHECKING:
    from ebbline.report.figures import Units
    from ebbline.report.told import Account, Reason
    from ebbline.sessions.publications.since import Publication


def record_publication(
    db_session: Session, session_id: UUID, by: str | None, note: str | None, now_ms: int
) -> UUID:
    """Freeze what is published now: the whole result, its engine and evidence, when and by whom.

    Raises:
        NotFoundError: no such session.
        MeasureError: there is nothing to publish: the core could not work on the evidence.
        InputError: a text that no database takes.
    """
    document = result_of(db_session, session_id)
    result = orjson.loads(document)
    revision = current_setup(db_session, session_id).revision
    found = Found(document, result["engine"], result["input_sha256"], revision)
    publication_id = freeze(db_session, found, by, note, now_ms, session_id=session_id)
    tell_line(db_session, session_id)
    return publication_id


def publications_of(db_session: Session, session_id: UUID, units: Units) -> list[Publication]:
    """Every publication of a session beside what is found now, the last one first.

    Raises:
        NotFoundError: no such session.
    """
    from ebbline.sessions.publications.since import Subject, beside_now

    setup = current_setup(db_session, session_id).setup
    rows = publications.of_session(db_session, session_id)
    if not rows:
        return []
    try:
        now = orjson.loads(result_of(db_session, session_id))
    except MeasureError:
        now = None

    def reasons(row: PublicationRow, _document: Any) -> list[Reason]:
        found: list[Reason] = [] if now["engine"] == row.engine else ["engine"]
        others = what_changed(
            db_session, session_id, row.input_sha256, row.revision, now["input_sha256"]
        )
        return found + others

    name = setup["session"].get("title") or (setup.get("vehicle") or {}).get("label") or "a session"
    return beside_now(rows, Subject(name, now, figures_of, _account, reasons), units)


def what_changed(
    db_session: Session, session_id: UUID, then_sha256: str, then_revision: int, now_sha256: str
) -> list[Reason]:
    """What of a session is no longer as it was: its evidence, what was chosen. The hashes are of
    the session files that were analysed, the revision that of the set-up then.
    """
    if now_sha256 == then_sha256:
        return []
    revisions = setups.revisions(db_session, session_id)
    then = next(one.document for one in revisions if one.revision == then_revision)
    under_it = document_of(db_session, session_id, then)
    found: list[Reason] = []
    if session_file.sha256_of(session_file.dump_document(under_it)) != then_sha256:
        found.append("evidence")
    if not same(then, revisions[-1].document):
        found.append("choices")
    return found


def _account(result: Any) -> Account:
    return account_of(figures_of(result))
