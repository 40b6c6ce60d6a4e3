"""What a session's line in the list is told of its result and of what was published."""

from __future__ import annotations

import logging
from typing import Any
from uuid import UUID

import orjson
from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.errors import MeasureError
from ebbline.sessions.results.headlines import account_of, figures_of
from ebbline.sessions.results.results import result_of
from ebbline.sessions.results.telling import differ
from ebbline.store import overviews, publications, sessions
from ebbline.store.models import Document

# Headlines that the list can be sorted by: their value has a column of its own.
SORTABLE = (
    "reserve_distance_m",
    "reserve_energy_kwh",
    "reserve_duration_s",
    "share_of_usable_pct",
    "consumption_wh_per_km",
    "full_power_kw",
)


_log = logging.getLogger(__name__)


def tell_line(db_session: Session, session_id: UUID) -> None:
    """Put a session's result, worked out if it is not at hand, into its line, or why there is none.

    Raises:
        NotFoundError: no such session.
    """
    additions = sessions.find(db_session, session_id).additions
    try:
        result_of(db_session, session_id)
        found = found_of(overviews.kept_results(db_session, [session_id]).get(session_id))
    except MeasureError as error:
        _log.warning("session %s could not be analysed", session_id, exc_info=True)
        found = failed(engine_id(), additions, str(error))
    published = publications.last_of(db_session, [session_id]).get(session_id)
    found |= published_part(published, found.get("figures"))
    overviews.keep_found(db_session, session_id, found)


def found_of(kept: tuple[str, int, bytes] | None) -> dict[str, Any]:
    """The columns of a kept result: its engine, the additions it saw, and its document."""
    if kept is None:
        return {}
    engine, additions, document = kept
    figures: Document = figures_of(orjson.loads(document))
    return {
        "engine": engine,
        "found_additions": additions,
        "failure": None,
        "outcome": figures["outcome"],
        "figures": figures,
        **{key: _value(figures[key]) for key in SORTABLE},
    }


def published_part(published: tuple[int, bytes] | None, figures: Document | None) -> dict[str, Any]:
    """The columns of what was last published (when, and its result document), beside the figures
    as they are now; None: not known now.
    """
    if published is None:
        return {}
    published_ms, document = published
    then = account_of(figures_of(orjson.loads(document)))
    now = None if figures is None else differ(then, account_of(figures))
    return {"published_ms": published_ms, "published_differs": now}


def failed(engine: str, additions: int, why: str) -> dict[str, Any]:
    """The columns of a session that can't be worked out."""
    return {
        "engine": engine,
        "found_additions": additions,
        "failure": why.replace("\x00", "\ufffd"),
        "outcome": None,
        "figures": None,
        **dict.fromkeys(SORTABLE),
    }


def _value(quantity: dict[str, float] | None) -> float | None:
    return None if quantity is None else quantity["value"]
