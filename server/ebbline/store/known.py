"""What sessions say of cars, of warnings and by the ticks of their checklists."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ebbline.store.models import EventRow, SetupRow

MOST_WARNINGS = 5000  # read; of so many each car's words have come up often


def setups_with_a_car(db_session: Session) -> Iterator[tuple[int, dict[str, Any]]]:
    """When each current set-up that names a car came, and what it says of car and day; the latest
    first.
    """
    newest = (
        select(SetupRow.session_id, func.max(SetupRow.revision).label("revision"))
        .group_by(SetupRow.session_id)
        .subquery()
    )
    document = SetupRow.document
    rows = db_session.execute(
        select(SetupRow.received_ms, document["vehicle"], document["conditions"])
        .join(
            newest,
            (SetupRow.session_id == newest.c.session_id) & (SetupRow.revision == newest.c.revision),
        )
        .where(document["vehicle"]["label"].as_string().is_not(None))
        .order_by(SetupRow.received_ms.desc(), SetupRow.session_id)
    )
    for received_ms, vehicle, conditions in rows:
        yield received_ms, {"vehicle": vehicle, "conditions": conditions}


def classed_warnings(db_session: Session) -> list[tuple[str, str]]:
    """What cars said, and the class that it was put into; the latest first, so that corrections
    come before what they correct.
    """
    document = EventRow.document
    said, chosen = document["text"].as_string(), document["class"].as_string()
    rows = db_session.execute(
        select(said, chosen)
        .where(document["kind"].as_string() == "warning", said.is_not(None), chosen.is_not(None))
        .order_by(EventRow.received_ms.desc(), EventRow.position.desc())
        .limit(MOST_WARNINGS)
    )
    return [(text, name) for text, name in rows]


def checklist_notes(db_session: Session, ids: Sequence[UUID]) -> dict[UUID, list[dict[str, Any]]]:
    """The ticks of these sessions' checklists, in order of arrival; absent where there are none."""
    rows = db_session.execute(
        select(EventRow.session_id, EventRow.document)
        .where(EventRow.session_id.in_(ids), EventRow.document["log"].as_string() == "checklist")
        .order_by(EventRow.session_id, EventRow.position)
    )
    found: dict[UUID, list[dict[str, Any]]] = {}
    for session_id, note in rows:
        found.setdefault(session_id, []).append(note)
    return found
