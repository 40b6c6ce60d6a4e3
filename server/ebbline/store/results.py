"""The cache of derived results: may be thrown away at any time."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlalchemy import ColumnElement, delete, select
from sqlalchemy.orm import Session

from ebbline.store import rows
from ebbline.store.engine import begin_write
from ebbline.store.models import ResultRow, SessionRow
from ebbline.store.sessions import insert_unless_held


def cached(db_session: Session, session_id: UUID, engine: str) -> bytes | None:
    """The result document of the session as it stands now, None when it isn't there."""
    return db_session.scalar(
        select(ResultRow.document)
        .join(SessionRow, SessionRow.id == ResultRow.session_id)
        .where(ResultRow.session_id == session_id, *_of_now(engine))
    )


def inputs_of_cached(
    db_session: Session, session_ids: Iterable[UUID], engine: str
) -> dict[UUID, str]:
    """The hash of the evidence that a cached result is of, for each of these sessions whose
    result is there.
    """
    found: dict[UUID, str] = {}
    for some in rows.in_parts(session_ids):
        held = db_session.execute(
            select(ResultRow.session_id, ResultRow.input_sha256)
            .join(SessionRow, SessionRow.id == ResultRow.session_id)
            .where(ResultRow.session_id.in_(some), *_of_now(engine))
        )
        found.update({session_id: input_sha256 for session_id, input_sha256 in held})
    return found


def _of_now(engine: str) -> tuple[ColumnElement[bool], ...]:
    return (ResultRow.engine == engine, ResultRow.additions == SessionRow.additions)


def keep(db_session: Session, row: ResultRow) -> None:
    """Cache one result in place of the session's earlier ones, and commit."""
    begin_write(db_session)
    db_session.execute(
        delete(ResultRow).where(
            ResultRow.session_id == row.session_id, ResultRow.additions <= row.additions
        )
    )
    db_session.execute(
        insert_unless_held(db_session, ResultRow).values(
            session_id=row.session_id,
            input_sha256=row.input_sha256,
            engine=row.engine,
            additions=row.additions,
            document=row.document,
        )
    )
    db_session.commit()
