"""Campaigns' comparisons as last worked out: derived, and may be thrown away at any time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from ebbline.store import campaigns
from ebbline.store.models import ComparisonRow


@dataclass(frozen=True, slots=True)
class Kept:
    """What a kept comparison was worked out from, by what, and whether readers of what was
    published last would be told otherwise; None: that can't be said.
    """

    input_sha256: str
    engine: str
    published_differs: bool | None


def cached(db_session: Session, campaign_id: UUID, input_sha256: str, engine: str) -> bytes | None:
    """The comparison document of this input by this engine, None when it isn't there."""
    return db_session.scalar(
        select(ComparisonRow.document).where(
            ComparisonRow.campaign_id == campaign_id,
            ComparisonRow.input_sha256 == input_sha256,
            ComparisonRow.engine == engine,
        )
    )


def kept_of(db_session: Session, campaign_ids: Iterable[UUID]) -> dict[UUID, Kept]:
    """What is kept of each of these campaigns, without the documents."""
    found = db_session.execute(
        select(
            ComparisonRow.campaign_id,
            ComparisonRow.input_sha256,
            ComparisonRow.engine,
            ComparisonRow.published_differs,
        ).where(ComparisonRow.campaign_id.in_(list(campaign_ids)))
    )
    return {row.campaign_id: Kept(*row[1:]) for row in found}


def keep(db_session: Session, row: ComparisonRow) -> None:
    """Keep one in place of the campaign's earlier one, and commit.

    Raises:
        NotFoundError: the campaign was deleted meanwhile.
    """
    campaigns.lock(db_session, row.campaign_id)
    db_session.execute(delete(ComparisonRow).where(ComparisonRow.campaign_id == row.campaign_id))
    db_session.add(row)
    db_session.commit()


def tell_published(db_session: Session, campaign_id: UUID, input_sha256: str) -> None:
    """Say that the comparison of this input is what was published last, and commit."""
    campaigns.lock(db_session, campaign_id)
    db_session.execute(
        update(ComparisonRow)
        .where(ComparisonRow.campaign_id == campaign_id, ComparisonRow.input_sha256 == input_sha256)
        .values(published_differs=False)
    )
    db_session.commit()


def forget(db_session: Session, campaign_id: UUID) -> None:
    """Throw a campaign's away; not committed."""
    db_session.execute(delete(ComparisonRow).where(ComparisonRow.campaign_id == campaign_id))
