"""The session row: creating it, locking it, and noting that something was added."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import Insert
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from ebbline.store import rows
from ebbline.store.engine import begin_write
from ebbline.store.models import Base, SessionRow


def insert_unless_held(db_session: Session, table: type[Base]) -> Insert:
    """An INSERT that leaves a row of the same key alone, in the database's own words."""
    if db_session.get_bind().dialect.name == "postgresql":
        return postgresql.insert(table).on_conflict_do_nothing()
    return sqlite.insert(table).on_conflict_do_nothing()


def create_locked(db_session: Session, session_id: UUID, now_ms: int) -> SessionRow:
    """Begin writing to a session, making its row when there is none yet."""
    begin_write(db_session)
    db_session.execute(
        insert_unless_held(db_session, SessionRow).values(
            id=session_id, created_ms=now_ms, updated_ms=now_ms, additions=0
        )
    )
    return rows.lock(db_session, SessionRow, session_id)


def lock(db_session: Session, session_id: UUID) -> SessionRow:
    """Begin writing to a session that exists; other writers to it wait until we commit.

    Raises:
        NotFoundError: no such session.
    """
    begin_write(db_session)
    return rows.lock(db_session, SessionRow, session_id)


def find(db_session: Session, session_id: UUID) -> SessionRow:
    """A session's row, for reading.

    Raises:
        NotFoundError: no such session.
    """
    return rows.find(db_session, SessionRow, session_id)


def note_addition(row: SessionRow, now_ms: int) -> None:
    """Say that something was added, so that derived results know they are out of date."""
    row.additions += 1
    row.updated_ms = now_ms
