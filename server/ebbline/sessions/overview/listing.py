"""The list of sessions, as the database holds its lines: nothing is analysed for it."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.sessions.overview.recorded import bring_up_to_date
from ebbline.sessions.overview.search import Order, Search
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store.models import Document, OverviewRow
from ebbline.store.overviews import is_found

EVERYTHING = Search()
LATEST_FIRST = Order()


@dataclass(frozen=True, slots=True)
class Overview:
    """One line of the list; events and readings counted are those that stand.

    ``figures`` are the headline figures that ``engine`` found; where not ``worked_out`` they are of
    before something was added or the engine changed, None if there never were any. ``failure`` says
    why they can't be worked out. ``published_differs``: they are no longer those published last.
    """

    id: UUID
    title: str | None
    started_at: str | None
    vehicle_label: str | None
    course_label: str | None
    event_count: int
    reading_count: int
    fix_count: int
    updated_at: str
    archived: bool
    worked_out: bool
    engine: str | None
    failure: str | None
    outcome: str | None
    figures: Document | None
    published_at: str | None
    published_differs: bool | None


@dataclass(frozen=True, slots=True)
class Listing:
    """A part of the list. ``total`` sessions were found, of which ``behind`` tell figures of before
    or none yet.
    """

    sessions: list[Overview]
    total: int
    behind: int


@dataclass(frozen=True, slots=True)
class Labels:
    """The vehicles and courses there are."""

    vehicles: list[str]
    courses: list[str]


def list_sessions(
    db_session: Session,
    search: Search = EVERYTHING,
    order: Order = LATEST_FIRST,
    limit: int | None = None,
    offset: int = 0,
) -> Listing:
    """The sessions asked for, in order, at most ``limit`` of them from ``offset`` on."""
    bring_up_to_date(db_session)
    conditions = list(search.conditions())
    found = is_found(engine_id())
    total, worked_out = db_session.execute(
        select(func.count(), func.sum(case((found, 1), else_=0)))
        .select_from(OverviewRow)
        .where(*conditions)
    ).one()
    part = (  # chosen by what is short: where many tie, whole lines would be sorted
        select(OverviewRow.session_id)
        .where(*conditions)
        .order_by(*order.columns())
        .limit(limit)
        .offset(offset)
        .subquery()
    )
    rows = db_session.execute(
        select(
            OverviewRow.session_id,
            OverviewRow.title,
            OverviewRow.started_at,
            OverviewRow.vehicle_label,
            OverviewRow.course_label,
            OverviewRow.event_count,
            OverviewRow.reading_count,
            OverviewRow.fix_count,
            OverviewRow.updated_ms,
            OverviewRow.archived,
            func.coalesce(found, False),
            OverviewRow.engine,
            OverviewRow.failure,
            OverviewRow.outcome,
            OverviewRow.figures,
            OverviewRow.published_ms,
            OverviewRow.published_differs,
        )
        .where(OverviewRow.session_id.in_(select(part.c.session_id)))
        .order_by(*order.columns())
    )
    lines = [
        Overview(
            *row[:8],
            updated_at=rfc3339(row.updated_ms),
            archived=row.archived,
            worked_out=bool(row[10]),
            engine=row.engine,
            failure=row.failure,
            outcome=row.outcome,
            figures=row.figures,
            published_at=None if row.published_ms is None else rfc3339(row.published_ms),
            published_differs=row.published_differs,
        )
        for row in rows
    ]
    return Listing(lines, total, total - int(worked_out or 0))


def labels(db_session: Session) -> Labels:
    """The vehicles and courses there are, each by name."""
    bring_up_to_date(db_session)
    vehicles, courses = (
        [label for label in db_session.scalars(select(column).distinct().order_by(column)) if label]
        for column in (OverviewRow.vehicle_label, OverviewRow.course_label)
    )
    return Labels(vehicles, courses)
