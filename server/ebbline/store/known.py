"""What earlier sessions say of cars and of warnings, the latest first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ebbline.store.models import EventRow, SetupRow

MOST_WARNINGS = 5000  # read; of so many each car's words have come up often


def setups_with_a_car(db_session: Session) -> Iterator[tuple[int, dict[str, Any]]]:
    """When each current set-up that names a car came, and what it says of car and day."""
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
    """What cars said, and the class that it was put into; corrections come before what they
    correct.
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
