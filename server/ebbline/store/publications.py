"""What was published: rows that are added and read, never changed."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from ebbline.store.models import PublicationRow


def of_session(db_session: Session, session_id: UUID) -> list[PublicationRow]:
    """Every publication of a session, the last one first."""
    return list(
        db_session.scalars(
            select(PublicationRow)
            .where(PublicationRow.session_id == session_id)
            .order_by(PublicationRow.published_ms.desc(), PublicationRow.id)
        )
    )


def last_of(db_session: Session, session_ids: Sequence[UUID]) -> dict[UUID, tuple[int, bytes]]:
    """Of each of these sessions that was published: when last, and its result document then."""
    rows = db_session.execute(
        select(PublicationRow.session_id, PublicationRow.published_ms, PublicationRow.document)
        .where(PublicationRow.session_id.in_(session_ids))
        .order_by(PublicationRow.published_ms)
    )
    return {session_id: (published_ms, document) for session_id, published_ms, document in rows}
