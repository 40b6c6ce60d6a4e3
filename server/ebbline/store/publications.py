"""What was published: rows that are added and read, never changed."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from ebbline.store import rows
from ebbline.store.engine import begin_write
from ebbline.store.models import CampaignRow, PublicationRow


def of_session(db_session: Session, session_id: UUID) -> list[PublicationRow]:
    """Every publication of a session, the last one first."""
    return _of(db_session, PublicationRow.session_id == session_id)


def of_campaign(db_session: Session, campaign_id: UUID) -> list[PublicationRow]:
    """Every publication of a campaign, the last one first."""
    return _of(db_session, PublicationRow.campaign_id == campaign_id)


def find(db_session: Session, publication_id: UUID) -> PublicationRow:
    """One of them.

    Raises:
        NotFoundError: no such publication.
    """
    return rows.find(db_session, PublicationRow, publication_id)


def add(db_session: Session, row: PublicationRow) -> None:
    """Keep one more, for good.

    Raises:
        NotFoundError: its campaign was deleted meanwhile.
    """
    begin_write(db_session)
    if row.campaign_id is not None:
        rows.lock(db_session, CampaignRow, row.campaign_id)
    db_session.add(row)
    db_session.commit()


def last_of(db_session: Session, session_ids: Sequence[UUID]) -> dict[UUID, tuple[int, bytes]]:
    """Of each of these sessions that was published: when last, and its result document then."""
    found = db_session.execute(
        select(PublicationRow.session_id, PublicationRow.published_ms, PublicationRow.document)
        .where(PublicationRow.session_id.in_(session_ids))
        .order_by(PublicationRow.published_ms)
    )
    return {
        session_id: (published_ms, document)
        for session_id, published_ms, document in found
        if session_id is not None
    }


def last_of_campaigns(db_session: Session, campaign_ids: Sequence[UUID]) -> dict[UUID, int]:
    """When each of these campaigns that was published was so last, in milliseconds."""
    found = db_session.execute(
        select(PublicationRow.campaign_id, func.max(PublicationRow.published_ms))
        .where(PublicationRow.campaign_id.in_(campaign_ids))
        .group_by(PublicationRow.campaign_id)
    )
    return {campaign_id: published_ms for campaign_id, published_ms in found if campaign_id}


def last_of_campaign(db_session: Session, campaign_id: UUID) -> bytes | None:
    """What was frozen last of a campaign, None where it never was published."""
    return db_session.scalar(
        select(PublicationRow.document)
        .where(PublicationRow.campaign_id == campaign_id)
        .order_by(PublicationRow.published_ms.desc(), PublicationRow.id)
        .limit(1)
    )


def _of(db_session: Session, whose: ColumnElement[bool]) -> list[PublicationRow]:
    return list(
        db_session.scalars(
            select(PublicationRow)
            .where(whose)
            .order_by(PublicationRow.published_ms.desc(), PublicationRow.id)
        )
    )
