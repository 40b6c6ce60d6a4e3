"""The list's lines: keeping them, and saying which are behind. All of it is derived."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, and_, func, not_, or_, select, update
from sqlalchemy.orm import Session

from ebbline.store.engine import begin_write
from ebbline.store.models import OverviewRow, ResultRow, SessionRow
from ebbline.store.sessions import insert_unless_held

# What a result and a publication give a line.
FOUND = (
    "engine", "found_additions", "failure", "outcome", "figures", "reserve_distance_m",
    "reserve_energy_kwh", "reserve_duration_s", "share_of_usable_pct", "consumption_wh_per_km",
    "full_power_kw", "claimed_until_ms", "published_ms", "published_differs",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Behind:
    """A session whose line doesn't tell what was recorded last; ``new``: it has none yet."""

    session_id: UUID
    additions: int
    updated_ms: int
    archived: bool
    new: bool


def behind_the_record(db_session: Session) -> list[Behind]:
    """Every session whose line is not there or from before something was added."""
    rows = db_session.execute(
        select(
            SessionRow.id,
            SessionRow.additions,
            SessionRow.updated_ms,
            SessionRow.archived_ms.is_not(None),
            SessionRow.listed_additions < 0,
        ).where(SessionRow.additions != SessionRow.listed_additions)
    )
    return [Behind(*row) for row in rows]


def keep_recorded(
    db_session: Session, new: Sequence[dict[str, Any]], changed: Sequence[dict[str, Any]]
) -> None:
    """Add lines and change others' recorded part, and commit. Rows name their ``session_id`` and
    the ``additions`` that they tell of.
    """
    begin_write(db_session)
    if new:  # somebody else may add them at the same time
        db_session.execute(insert_unless_held(db_session, OverviewRow), list(new))
    if changed:
        db_session.execute(update(OverviewRow), list(changed))  # by primary key
    listed = [
        {"id": row["session_id"], "listed_additions": row["additions"]} for row in (*new, *changed)
    ]
    if listed:
        db_session.execute(update(SessionRow), listed)
    db_session.commit()


def keep_archived(db_session: Session, session_id: UUID, archived: bool) -> None:
    """Tell in a session's line, if it has one yet, whether it is put away; not committed."""
    db_session.execute(
        update(OverviewRow).where(OverviewRow.session_id == session_id).values(archived=archived)
    )


def keep_found(db_session: Session, session_id: UUID, found: dict[str, Any]) -> None:
    """Put what a result gives into a session's line, unless it tells a later one, and commit.
    A claim to it ends.
    """
    begin_write(db_session)
    db_session.execute(
        update(OverviewRow)
        .where(
            OverviewRow.session_id == session_id,
            or_(
                OverviewRow.found_additions.is_(None),
                OverviewRow.found_additions <= found["found_additions"],
            ),
        )
        .values({"claimed_until_ms": None, **found})
    )
    db_session.commit()


def kept_results(
    db_session: Session, session_ids: Sequence[UUID]
) -> dict[UUID, tuple[str, int, bytes]]:
    """The result last kept of each session, whatever found it: engine, additions, document."""
    rows = db_session.execute(
        select(ResultRow.session_id, ResultRow.engine, ResultRow.additions, ResultRow.document)
        .where(ResultRow.session_id.in_(session_ids))
        .order_by(ResultRow.additions)
    )
    return {session_id: (engine, additions, document) for session_id, engine, additions, document
            in rows}  # fmt: skip


def is_found(engine: str) -> ColumnElement[bool]:
    """Whether a line tells what ``engine`` finds now."""
    return and_(
        OverviewRow.engine.is_not(None),
        OverviewRow.engine == engine,
        OverviewRow.found_additions == OverviewRow.additions,
    )


def count_behind_the_engine(db_session: Session, engine: str) -> int:
    """How many lines tell figures of before, or none yet."""
    return db_session.scalar(_behind_the_engine(engine, func.count())) or 0


def claim_behind_the_engine(
    db_session: Session, engine: str, first: Sequence[UUID], now_ms: int, until_ms: int
) -> UUID | None:
    """Claim a session whose result is to be worked out: one of ``first`` if it can be, else the
    latest start. None when there is none left that nobody has claimed.
    """
    free = or_(OverviewRow.claimed_until_ms.is_(None), OverviewRow.claimed_until_ms < now_ms)
    asked = _behind_the_engine(engine, OverviewRow.session_id).where(free)
    order = OverviewRow.started_ms.desc().nulls_last()
    while True:
        found: UUID | None = None
        if first:
            found = db_session.scalar(
                asked.where(OverviewRow.session_id.in_(first)).order_by(order).limit(1)
            )
        found = found or db_session.scalar(asked.order_by(order).limit(1))
        if found is None:
            return None
        begin_write(db_session)
        claimed = db_session.execute(
            update(OverviewRow)
            .where(OverviewRow.session_id == found, free)
            .values(claimed_until_ms=until_ms)
        )
        db_session.commit()
        if claimed.rowcount:  # type: ignore[attr-defined]  # a cursor's result has it
            return found


def _behind_the_engine(engine: str, *asked: Any) -> Any:
    return (
        select(*asked).select_from(OverviewRow).where(not_(func.coalesce(is_found(engine), False)))
    )
