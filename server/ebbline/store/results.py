"""The cache of derived results: may be thrown away at any time."""

from __future__ import annotations

from typing import TypeVar
from uuid import UUID

from sqlalchemy import delete, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from ebbline.store.engine import begin_write
from ebbline.store.models import ResultRow, SessionRow
from ebbline.store.sessions import insert_unless_held

T = TypeVar("T")


def cached(db_session: Session, session_id: UUID, engine: str) -> bytes | None:
    """The result document of the session as it stands now, None when it isn't there."""
    return _of_now(db_session, ResultRow.document, session_id, engine)


def input_of_cached(db_session: Session, session_id: UUID, engine: str) -> str | None:
    """The hash of the evidence that this result is of, None when it isn't there."""
    return _of_now(db_session, ResultRow.input_sha256, session_id, engine)


def _of_now(
    db_session: Session, column: InstrumentedAttribute[T], session_id: UUID, engine: str
) -> T | None:
    return db_session.scalar(
        select(column)
        .join(SessionRow, SessionRow.id == ResultRow.session_id)
        .where(
            ResultRow.session_id == session_id,
            ResultRow.engine == engine,
            ResultRow.additions == SessionRow.additions,
        )
    )


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
