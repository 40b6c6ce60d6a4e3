"""What the others of a session have recorded, for a phone that records in it too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.exchange import clock_checks
from ebbline.sessions.records.setups import current_setup
from ebbline.store import observations, sessions
from ebbline.store.models import ClockCheckRow, Document, EventRow, ReadingRow

ABOUT_A_DEVICE = ("id", "label", "clock_offset_ms")


@dataclass(frozen=True, slots=True)
class Place:
    """How many events and readings somebody has been told of, in order of arrival."""

    events: int = 0
    readings: int = 0


@dataclass(frozen=True, slots=True)
class Crew:
    """Records of others that came between two places, as they came.

    ``since`` is where they begin: the place asked from, or the beginning where this server holds
    less than was told. ``devices`` says what is known of each recorder and its clock.
    """

    since: Place
    until: Place
    devices: list[Document]
    events: list[Document]
    readings: list[Document]


def crew_of(db_session: Session, session_id: UUID, device: str, since: Place) -> Crew:
    """What everybody but this device has recorded since. What phones note of themselves (a gap, a
    tick of the checklist) is nothing that another one could have seen, and stays out.

    Raises:
        NotFoundError: no such session.
    """
    sessions.find(db_session, session_id)
    held = Place(
        observations.length(db_session, EventRow, session_id),
        observations.length(db_session, ReadingRow, session_id),
    )
    if since.events > held.events or since.readings > held.readings:
        since = Place()

    def others(table: observations.Table, first: int, end: int) -> list[Document]:
        came = observations.between(db_session, table, session_id, first, end)
        return [one for one in came if one["device"] != device and "log" not in one]

    return Crew(
        since,
        held,
        _devices(db_session, session_id),
        others(EventRow, since.events, held.events),
        others(ReadingRow, since.readings, held.readings),
    )


def _devices(db_session: Session, session_id: UUID) -> list[dict[str, Any]]:
    checks = observations.in_order_of_arrival(db_session, ClockCheckRow, session_id)
    known = clock_checks.with_offsets(current_setup(db_session, session_id).setup, checks)
    return [
        {name: device.get(name) for name in ABOUT_A_DEVICE} for device in known.get("devices") or []
    ]
