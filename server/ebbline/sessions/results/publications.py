"""What was published, frozen, and what became of it since: by how much the figures changed, why,
and what to tell readers.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import orjson
from sqlalchemy.orm import Session

from ebbline.errors import InputError, MeasureError
from ebbline.exchange import session_file
from ebbline.records.result import Quantity
from ebbline.sessions.records.document import document_of
from ebbline.sessions.records.setups import current_setup
from ebbline.sessions.results.headlines import Change, changes, differ, figures_of
from ebbline.sessions.results.line import tell_line
from ebbline.sessions.results.results import result_of
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import publications, setups
from ebbline.store.content import same
from ebbline.store.engine import begin_write
from ebbline.store.models import PublicationRow

if TYPE_CHECKING:
    from ebbline.report.erratum import Reason
    from ebbline.report.figures import Units


@dataclass(frozen=True, slots=True)
class Changed:
    """A headline figure as published and as it is now; None: not known."""

    key: str
    words: str
    dimension: str
    old: Quantity | None
    new: Quantity | None


@dataclass(frozen=True, slots=True)
class Publication:
    """What was published once. ``reasons`` say what is no longer as it was then (the engine, the
    evidence, the choices), ``changed`` which figures; ``erratum`` is what to tell readers, None
    where nothing changed that they could see. ``comparable`` is False where there are no figures
    now.
    """

    id: UUID
    published_at: str
    by: str | None
    note: str | None
    engine: str
    input_sha256: str
    setup_revision: int
    figures: dict[str, Any]
    comparable: bool
    reasons: list[Reason]
    changed: list[Changed]
    erratum: str | None


def record_publication(
    db_session: Session, session_id: UUID, by: str | None, note: str | None, now_ms: int
) -> UUID:
    """Freeze what is published now: the whole result, its engine and evidence, when and by whom.

    Raises:
        NotFoundError: no such session.
        MeasureError: there is nothing to publish: the core could not work on the evidence.
        InputError: a text that no database takes.
    """
    for where, text in (("by", by), ("note", note)):
        if "\x00" in (text or ""):
            raise InputError(where, "a NUL has no place in it")
    document = result_of(db_session, session_id)
    result = orjson.loads(document)
    row = PublicationRow(
        id=uuid4(),
        session_id=session_id,
        published_ms=now_ms,
        by=by,
        note=note,
        engine=result["engine"],
        input_sha256=result["input_sha256"],
        setup_revision=current_setup(db_session, session_id).revision,
        document=document,
    )
    publication_id = row.id
    begin_write(db_session)
    db_session.add(row)
    db_session.commit()
    tell_line(db_session, session_id)
    return publication_id


def publications_of(db_session: Session, session_id: UUID, units: Units) -> list[Publication]:
    """Every publication of a session beside what is found now, the last one first.

    Raises:
        NotFoundError: no such session.
    """
    setup = current_setup(db_session, session_id).setup
    rows = publications.of_session(db_session, session_id)
    if not rows:
        return []
    try:
        now = orjson.loads(result_of(db_session, session_id))
    except MeasureError:
        now = None
    name = setup["session"].get("title") or (setup.get("vehicle") or {}).get("label") or "a session"
    return [_publication(db_session, row, now, name, units) for row in rows]


def _publication(
    db_session: Session, row: PublicationRow, now: Any, name: str, units: Units
) -> Publication:
    from ebbline.report.erratum import Corrected, erratum

    published_at = datetime.fromtimestamp(row.published_ms / 1000, UTC)
    figures = figures_of(orjson.loads(row.document))
    reasons = [] if now is None else _reasons(db_session, row, now)
    current = None if now is None else figures_of(now)
    found: list[Change] = [] if current is None or not reasons else changes(figures, current)
    text = None
    if current is not None and reasons and differ(figures, current):
        text = erratum(
            name,
            published_at,
            (figures["outcome"], current["outcome"]),
            [
                Corrected(one.headline.words, one.headline.dimension, one.old, one.new)
                for one in found
            ],
            reasons,
            units,
        )
    return Publication(
        id=row.id,
        published_at=rfc3339(row.published_ms),
        by=row.by,
        note=row.note,
        engine=row.engine,
        input_sha256=row.input_sha256,
        setup_revision=row.setup_revision,
        figures=figures,
        comparable=current is not None,
        reasons=reasons,
        changed=[
            Changed(one.headline.key, one.headline.words, one.headline.dimension, one.old, one.new)
            for one in found
        ],
        erratum=text,
    )


def _reasons(db_session: Session, row: PublicationRow, now: Any) -> list[Reason]:
    found: list[Reason] = []
    if now["engine"] != row.engine:
        found.append("engine")
    if now["input_sha256"] != row.input_sha256:
        revisions = setups.revisions(db_session, row.session_id)
        then = next(one.document for one in revisions if one.revision == row.setup_revision)
        under_it = document_of(db_session, row.session_id, then)
        content = session_file.dump_document(under_it)
        if session_file.sha256_of(content) != row.input_sha256:
            found.append("evidence")
        if not same(then, revisions[-1].document):
            found.append("choices")
    return found
