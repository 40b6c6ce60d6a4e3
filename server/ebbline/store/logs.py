"""Logs of power: whole, as they came; only ever added."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from ebbline.store.content import same
from ebbline.store.models import Document, LogRow


@dataclass(frozen=True, slots=True)
class Added:
    """What became of the logs offered, by their index.

    ``conflicting`` are of a device that has a log from the same file with other content (read in
    another way); that one stays as it was.
    """

    new: list[int]
    conflicting: list[int]


def add_new(db_session: Session, session_id: UUID, logs: Sequence[Document], now_ms: int) -> Added:
    """Store the logs that are not there yet. The session must be locked."""
    stored = in_order_of_arrival(db_session, session_id)
    added = Added([], [])
    for index, log in enumerate(logs):
        key = (log["device"], log["source_sha256"])
        there = [held for held in stored if (held["device"], held["source_sha256"]) == key]
        if any(same(held, log) for held in there):
            continue
        if there:
            added.conflicting.append(index)
            continue
        db_session.add(
            LogRow(
                session_id=session_id,
                position=len(stored),
                device=log["device"],
                source_sha256=log["source_sha256"],
                count=len(log["t_ms"]),
                document=log,
                received_ms=now_ms,
            )
        )
        stored.append(log)
        added.new.append(index)
    db_session.flush()
    return added


def in_order_of_arrival(db_session: Session, session_id: UUID) -> list[Document]:
    """The logs of one session as they came."""
    return list(
        db_session.scalars(
            select(LogRow.document).where(LogRow.session_id == session_id).order_by(LogRow.position)
        )
    )
