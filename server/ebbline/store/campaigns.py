"""Campaigns' rows: read, changed and deleted; unlike evidence they are somebody's opinion."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from ebbline.store import rows
from ebbline.store.engine import begin_write
from ebbline.store.models import CampaignRow, SessionRow


def by_name(db_session: Session) -> list[CampaignRow]:
    """Every campaign, by name."""
    return list(db_session.scalars(select(CampaignRow).order_by(CampaignRow.name, CampaignRow.id)))


def find(db_session: Session, campaign_id: UUID) -> CampaignRow:
    """One campaign, for reading.

    Raises:
        NotFoundError: no such campaign.
    """
    return rows.find(db_session, CampaignRow, campaign_id)


def lock(db_session: Session, campaign_id: UUID) -> CampaignRow:
    """Begin writing to a campaign; others who would wait until we commit.

    Raises:
        NotFoundError: no such campaign.
    """
    begin_write(db_session)
    return rows.lock(db_session, CampaignRow, campaign_id)


def not_there(db_session: Session, session_ids: Iterable[UUID]) -> set[UUID]:
    """Those of these sessions that the database doesn't hold."""
    asked = set(session_ids)
    held: set[UUID] = set()
    for some in rows.in_parts(asked):
        held.update(db_session.scalars(select(SessionRow.id).where(SessionRow.id.in_(some))))
    return asked - held
