"""Events, readings and clock checks: raw records under ids that their devices made."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from ebbline.measure.standing import Link, standing
from ebbline.store.content import same
from ebbline.store.models import ClockCheckRow, Document, EventRow, ReadingRow
from ebbline.store.rows import in_parts

Table = type[EventRow] | type[ReadingRow] | type[ClockCheckRow]


@dataclass(frozen=True, slots=True)
class Added:
    """What became of the records offered, by their index in the offer.

    ``held`` are in the database now, ``new`` of them since this offer; ``conflicting`` have the
    id of a stored record with other content, which stays as it was; ``circular`` would correct
    a record that (by way of others) corrects them.
    """

    held: list[int]
    new: list[int]
    conflicting: list[int]
    circular: list[int]


def add_new(
    db_session: Session, table: Table, session_id: UUID, records: Sequence[Document], now_ms: int
) -> Added:
    """Store the records whose ids are not there yet. The session must be locked."""
    stored = _stored(db_session, table, session_id, [record["id"] for record in records])
    corrections = _Corrections(db_session, table, session_id, records)
    position = _next_position(db_session, table, session_id)
    added = Added([], [], [], [])
    rows: list[dict[str, Any]] = []
    for index, record in enumerate(records):
        there = stored.get(record["id"])
        if there is None and corrections.would_circle(record):
            added.circular.append(index)
        elif there is None:
            corrections.add(record)
            stored[record["id"]] = record
            rows.append(
                {
                    "session_id": session_id,
                    "id": record["id"],
                    "position": position + len(rows),
                    "device": record["device"],
                    "t_ms": record["t_ms"],
                    "document": record,
                    "received_ms": now_ms,
                }
            )
            added.new.append(index)
            added.held.append(index)
        elif same(there, record):
            added.held.append(index)
        else:
            added.conflicting.append(index)
    if rows:
        db_session.execute(insert(table), rows)
    return added


def in_order_of_arrival(db_session: Session, table: Table, session_id: UUID) -> list[Document]:
    """The raw records as they arrived."""
    return list(
        db_session.scalars(
            select(table.document).where(table.session_id == session_id).order_by(table.position)
        )
    )


def length(db_session: Session, table: Table, session_id: UUID) -> int:
    """How many records there are."""
    return _next_position(db_session, table, session_id)


def between(
    db_session: Session, table: Table, session_id: UUID, first: int, end: int
) -> list[Document]:
    """The raw records from one place in the order of arrival up to another, without that."""
    return list(
        db_session.scalars(
            select(table.document)
            .where(table.session_id == session_id, table.position >= first, table.position < end)
            .order_by(table.position)
        )
    )


def events_of(db_session: Session, session_ids: Sequence[UUID]) -> Iterator[tuple[UUID, Document]]:
    """Every raw event of these sessions, each with its session."""
    rows = db_session.execute(
        select(EventRow.session_id, EventRow.document).where(EventRow.session_id.in_(session_ids))
    )
    yield from ((session_id, document) for session_id, document in rows)


def count(db_session: Session, table: Table, session_id: UUID, device: str) -> int:
    """How many records one device made in a session."""
    found = db_session.scalar(
        select(func.count()).where(table.session_id == session_id, table.device == device)
    )
    return int(found or 0)


def standing_counts(
    db_session: Session, table: Table, session_ids: Sequence[UUID]
) -> dict[UUID, int]:
    """How many records of each of these sessions stand. Those that never had any are absent.

    Only corrections and what they name are read: whatever else there is stands.
    """
    of_these = table.session_id.in_(session_ids)
    rows = db_session.execute(
        select(table.session_id, func.count()).where(of_these).group_by(table.session_id)
    )
    counts = {session_id: count for session_id, count in rows}
    corrections: dict[UUID, list[Document]] = {}
    for session_id, document in db_session.execute(
        select(table.session_id, table.document)
        .where(of_these, table.document["corrects"].as_string().is_not(None))
        .order_by(table.position)
    ):
        corrections.setdefault(session_id, []).append(document)
    for session_id, of_it in corrections.items():
        named = [correction["corrects"] for correction in of_it]
        # what is named is replaced, so where it stands in the order makes no difference
        involved = _stored(db_session, table, session_id, named)
        involved |= {correction["id"]: correction for correction in of_it}
        links = [_link(table, record) for record in involved.values()]
        counts[session_id] -= len(links) - len(standing(links))
    return counts


def _link(table: Table, record: Document) -> Link:
    taken_back = record.get("value") is None if table is ReadingRow else record.get("withdraws")
    return Link(record["id"], record.get("corrects"), bool(taken_back))


def corrections_of(
    db_session: Session, table: Table, session_id: UUID, originals: Collection[str]
) -> dict[str, list[Document]]:
    """The records that correct each of these, in order of arrival."""
    found: dict[str, list[Document]] = {}
    if originals:
        for record in in_order_of_arrival(db_session, table, session_id):
            if record.get("corrects") in originals:
                found.setdefault(record["corrects"], []).append(record)
    return found


def devices_of(
    db_session: Session, table: Table, session_id: UUID, ids: list[str]
) -> dict[str, str]:
    """Which device made each of these records; those that aren't here are absent."""
    stored = _stored(db_session, table, session_id, ids)
    return {record_id: record["device"] for record_id, record in stored.items()}


class _Corrections:
    """Which record replaces which; nothing is read when nothing offered replaces any."""

    def __init__(
        self, db_session: Session, table: Table, session_id: UUID, offered: Sequence[Document]
    ) -> None:
        self._replaces: dict[str, str] = {}
        if any(record.get("corrects") is not None for record in offered):
            for record in in_order_of_arrival(db_session, table, session_id):
                self.add(record)

    def add(self, record: Document) -> None:
        if record.get("corrects") is not None:
            self._replaces[record["id"]] = record["corrects"]

    def would_circle(self, record: Document) -> bool:
        at = record.get("corrects")
        while at is not None and at != record["id"]:
            at = self._replaces.get(at)
        return at is not None


def _stored(
    db_session: Session, table: Table, session_id: UUID, ids: list[str]
) -> dict[str, Document]:
    found: dict[str, Document] = {}
    for some in in_parts(ids):
        rows = db_session.execute(
            select(table.id, table.document).where(
                table.session_id == session_id, table.id.in_(some)
            )
        )
        found.update({record_id: document for record_id, document in rows})
    return found


def _next_position(db_session: Session, table: Table, session_id: UUID) -> int:
    last = db_session.scalar(select(func.max(table.position)).where(table.session_id == session_id))
    return 0 if last is None else last + 1
