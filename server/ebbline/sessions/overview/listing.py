"""The list of sessions, with what is known of each."""

from __future__ import annotations

import logging
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID
from weakref import WeakKeyDictionary

import orjson
from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.errors import MeasureError
from ebbline.sessions.overview.search import Search
from ebbline.sessions.results.results import result_of
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import breadcrumbs, observations, results, sessions, setups
from ebbline.store.models import EventRow, ReadingRow
from ebbline.vocabulary import DRIVING_KINDS

EVERYTHING = Search()
_log = logging.getLogger(__name__)

# By database and session, the additions that an analysis failed on, and why: a list that tried them
# anew each time would never come to the sessions behind them.
_failed: WeakKeyDictionary[object, dict[UUID, tuple[int, str]]] = WeakKeyDictionary()
_NOT_BEGUN = datetime.max.replace(tzinfo=UTC)
ANALYSE_FOR_S = 2.0  # a list must come while its reader waits; the next call does the rest


@dataclass(frozen=True, slots=True)
class Overview:
    """One line of the list; events and readings counted are those that stand. The last three are
    None until ``worked_out``, and may be then; ``failure`` says why they can't be worked out.
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
    failure: str | None
    outcome: str | None
    reserve_distance_m: dict[str, float] | None
    reserve_energy_kwh: dict[str, float] | None


def list_sessions(db_session: Session, search: Search = EVERYTHING) -> list[Overview]:
    """The sessions asked for: those not begun yet, then the others, the latest start first; those
    not analysed yet are, while time lasts. With an ``outcome`` asked for, those it did not last
    for are left out.
    """
    current = setups.all_current(db_session)
    events = observations.standing_counts(db_session, EventRow)
    readings = observations.standing_counts(db_session, ReadingRow)
    fixes = breadcrumbs.counts(db_session)
    rows = [
        (row.id, row.updated_ms, row.archived_ms is not None, current[row.id].document)
        for row in sessions.newest_first(db_session)
        if row.id in current and search.matches_archived(row.archived_ms is not None)
    ]
    rows.sort(key=lambda row: _start(row[3]), reverse=True)  # equal ones stay as they are
    stop_at = time.monotonic() + ANALYSE_FOR_S
    overviews = []
    for session_id, updated_ms, archived, setup in rows:
        if not (
            search.matches_setup(setup) and _matches_text(db_session, session_id, setup, search)
        ):
            continue
        result, failure = _result(db_session, session_id, compute=time.monotonic() < stop_at)
        reserve = {} if result is None else result["reserve"]
        outcome = None if result is None else _outcome(result)
        if search.outcome is not None and outcome != search.outcome:
            continue
        session = setup["session"]
        overviews.append(
            Overview(
                id=session_id,
                title=session.get("title"),
                started_at=session.get("started_at"),
                vehicle_label=(setup.get("vehicle") or {}).get("label"),
                course_label=(setup.get("course") or {}).get("label"),
                event_count=events.get(session_id, 0),
                reading_count=readings.get(session_id, 0),
                fix_count=fixes.get(session_id, 0),
                updated_at=rfc3339(updated_ms),
                archived=archived,
                worked_out=result is not None or failure is not None,
                failure=failure,
                outcome=outcome,
                reserve_distance_m=reserve.get("distance_m"),
                reserve_energy_kwh=reserve.get("energy_kwh"),
            )
        )
    return overviews


def work_out(db_session: Session, session_id: UUID) -> None:
    """See to it that the list has this session's result at hand; evidence that can't be analysed
    stays without one.

    Raises:
        NotFoundError: no such session.
    """
    _result(db_session, session_id, compute=True)


def _matches_text(
    db_session: Session, session_id: UUID, setup: dict[str, Any], search: Search
) -> bool:
    if not search.text:
        return True
    return search.matches_text(
        setup, observations.in_order_of_arrival(db_session, EventRow, session_id)
    )


def _result(
    db_session: Session, session_id: UUID, *, compute: bool
) -> tuple[dict[str, Any] | None, str | None]:
    """The result, or why there can't be one; neither when it would have to be computed first."""
    held = results.cached(db_session, session_id, engine_id())
    if held is None:
        additions = sessions.find(db_session, session_id).additions
        failed = _failed.setdefault(db_session.get_bind(), {})
        failed_at, why = failed.get(session_id, (None, None))
        if failed_at == additions:
            return None, why
        if not compute:
            return None, None
        try:
            held = result_of(db_session, session_id)
        except MeasureError as error:
            _log.warning("session %s could not be analysed", session_id, exc_info=True)
            failed[session_id] = (additions, str(error))
            return None, str(error)
    return orjson.loads(held), None


def _start(setup: dict[str, Any]) -> datetime:
    """When a session began; one that has not will begin later than any other did."""
    started_at = setup["session"].get("started_at")
    return datetime.fromisoformat(started_at.upper()) if started_at else _NOT_BEGUN


def _outcome(result: dict[str, Any]) -> str | None:
    if result["reserve"]["shut_down_before_zero"]:
        return "before zero"
    reserve = result["reserve"]
    if reserve["distance_m"] is not None or reserve["energy_kwh"] is not None:
        return "past zero"
    tapped = any(entry["kind"] in DRIVING_KINDS for entry in result["timeline"])
    return None if tapped or result["distance"]["total_m"] is not None else "no drive"
