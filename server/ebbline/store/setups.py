"""Revisions of a session's set-up: only ever added."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ebbline.store.models import Document, SetupRow
from ebbline.store.rows import in_parts


def revisions(db_session: Session, session_id: UUID) -> list[SetupRow]:
    """Every revision of one session's set-up, first to last."""
    return list(
        db_session.scalars(
            select(SetupRow).where(SetupRow.session_id == session_id).order_by(SetupRow.revision)
        )
    )


def current(db_session: Session, session_id: UUID) -> SetupRow | None:
    """The latest revision, None before there is one."""
    return db_session.scalar(
        select(SetupRow)
        .where(SetupRow.session_id == session_id)
        .order_by(SetupRow.revision.desc())
        .limit(1)
    )


def current_of(db_session: Session, session_ids: Iterable[UUID]) -> dict[UUID, SetupRow]:
    """The latest revision of each of these sessions."""
    found: dict[UUID, SetupRow] = {}
    for some in in_parts(session_ids):
        latest = (
            select(SetupRow.session_id, func.max(SetupRow.revision).label("revision"))
            .where(SetupRow.session_id.in_(some))
            .group_by(SetupRow.session_id)
            .subquery()
        )
        rows = db_session.scalars(
            select(SetupRow).join(
                latest,
                (SetupRow.session_id == latest.c.session_id)
                & (SetupRow.revision == latest.c.revision),
            )
        )
        found.update((row.session_id, row) for row in rows)
    return found


def add(db_session: Session, session_id: UUID, document: Document, now_ms: int) -> SetupRow:
    """Add a revision after the latest. The session must be locked."""
    latest = current(db_session, session_id)
    row = SetupRow(
        session_id=session_id,
        revision=1 if latest is None else latest.revision + 1,
        document=document,
        received_ms=now_ms,
    )
    db_session.add(row)
    db_session.flush()
    return row
