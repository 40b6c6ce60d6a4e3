"""Fixes: columns stored as they came, handed out again device by device in order of ``seq``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ebbline.store.content import same
from ebbline.store.models import BreadcrumbsRow, Document

Fix = dict[str, Any]  # column name to value; what is not known is left out


@dataclass(frozen=True, slots=True)
class Added:
    """What became of the fixes offered, by ``seq``.

    ``held`` are in the database now, ``new`` of them since this offer; ``conflicting`` have the
    ``seq`` of a stored fix with other content, which stays as it was.
    """

    held: list[int]
    new: list[int]
    conflicting: list[int]


def add_all(
    db_session: Session, session_id: UUID, entries: Sequence[Document], now_ms: int
) -> list[Added]:
    """Store the fixes of entries that came together and are not there yet. The session must be
    locked.

    Each entry has passed the door: ``seq`` strictly increases and columns have one length. A
    second entry of a device says that something began anew, such as its clock; that is kept.
    """
    devices: set[str] = set()
    added = []
    for entry in entries:
        opens = entry["device"] in devices
        devices.add(entry["device"])
        added.append(_add_new(db_session, session_id, entry, opens, now_ms))
    return added


def _add_new(
    db_session: Session, session_id: UUID, entry: Document, opens: bool, now_ms: int
) -> Added:
    seqs: list[int] = entry["seq"]
    if not seqs:
        return Added([], [], [])
    stored = _stored_fixes(db_session, session_id, entry["device"], seqs)
    added = Added([], [], [])
    new_rows = []
    for index, (seq, fix) in enumerate(zip(seqs, _fixes(entry), strict=True)):
        if seq not in stored:
            new_rows.append(index)
            added.new.append(seq)
            added.held.append(seq)
        elif same(stored[seq], fix):
            added.held.append(seq)
        else:
            added.conflicting.append(seq)
    if new_rows:
        document = take(entry, new_rows)
        db_session.add(
            BreadcrumbsRow(
                session_id=session_id,
                position=_next_position(db_session, session_id),
                device=entry["device"],
                first_seq=document["seq"][0],
                last_seq=document["seq"][-1],
                count=len(new_rows),
                opens_entry=opens and new_rows[0] == 0,
                document=document,
                received_ms=now_ms,
            )
        )
        db_session.flush()
    return added


def merged(db_session: Session, session_id: UUID) -> list[Document]:
    """Every fix, as few entries as keep what came: devices in order of arrival, each in order
    of ``seq``, a new entry where one began, time goes back, or columns or other keys differ.
    """
    by_device: dict[str, list[BreadcrumbsRow]] = {}
    for row in db_session.scalars(
        select(BreadcrumbsRow)
        .where(BreadcrumbsRow.session_id == session_id)
        .order_by(BreadcrumbsRow.position)
    ):
        by_device.setdefault(row.device, []).append(row)
    return [entry for batches in by_device.values() for entry in _joined(_pieces(batches))]


def after(db_session: Session, session_id: UUID, position: int) -> list[tuple[int, str, Document]]:
    """The batches that arrived behind a position: their own positions, devices and content."""
    rows = db_session.execute(
        select(BreadcrumbsRow.position, BreadcrumbsRow.device, BreadcrumbsRow.document)
        .where(BreadcrumbsRow.session_id == session_id, BreadcrumbsRow.position > position)
        .order_by(BreadcrumbsRow.position)
    )
    return [(place, device, document) for place, device, document in rows]


def first_entry(db_session: Session, session_id: UUID, device: str) -> Document | None:
    """The batch of a device that came first, None when it recorded no fixes."""
    return db_session.scalar(
        select(BreadcrumbsRow.document)
        .where(BreadcrumbsRow.session_id == session_id, BreadcrumbsRow.device == device)
        .order_by(BreadcrumbsRow.position)
        .limit(1)
    )


def counts(db_session: Session, session_ids: Sequence[UUID]) -> dict[UUID, int]:
    """How many fixes each of these sessions has; those with none are absent."""
    rows = db_session.execute(
        select(BreadcrumbsRow.session_id, func.sum(BreadcrumbsRow.count))
        .where(BreadcrumbsRow.session_id.in_(session_ids))
        .group_by(BreadcrumbsRow.session_id)
    )
    return {session_id: int(count) for session_id, count in rows}


def count(db_session: Session, session_id: UUID, device: str | None = None) -> int:
    """How many fixes one session has, of one device if that is named."""
    asked = select(func.sum(BreadcrumbsRow.count)).where(BreadcrumbsRow.session_id == session_id)
    if device is not None:
        asked = asked.where(BreadcrumbsRow.device == device)
    return int(db_session.scalar(asked) or 0)


def take(entry: Document, rows: Sequence[int]) -> Document:
    """The same entry with only these rows (indices in rising order) of its columns."""
    if len(rows) == len(entry["seq"]):
        return entry
    names = _column_names(entry)
    return {
        key: [value[row] for row in rows] if key in names else value for key, value in entry.items()
    }


def _column_names(entry: Document) -> set[str]:
    count = len(entry["seq"])
    return {key for key, value in entry.items() if isinstance(value, list) and len(value) == count}


def _fixes(entry: Document) -> Iterable[Fix]:
    names = sorted(_column_names(entry))
    for values in zip(*(entry[name] for name in names), strict=True):
        yield {name: value for name, value in zip(names, values, strict=True) if value is not None}


def _stored_fixes(
    db_session: Session, session_id: UUID, device: str, seqs: list[int]
) -> dict[int, Fix]:
    overlapping = db_session.scalars(
        select(BreadcrumbsRow.document).where(
            BreadcrumbsRow.session_id == session_id,
            BreadcrumbsRow.device == device,
            BreadcrumbsRow.first_seq <= seqs[-1],
            BreadcrumbsRow.last_seq >= seqs[0],
        )
    )
    return {
        seq: fix
        for entry in overlapping
        for seq, fix in zip(entry["seq"], _fixes(entry), strict=True)
    }


def _next_position(db_session: Session, session_id: UUID) -> int:
    last = db_session.scalar(
        select(func.max(BreadcrumbsRow.position)).where(BreadcrumbsRow.session_id == session_id)
    )
    return 0 if last is None else last + 1


def _pieces(batches: list[BreadcrumbsRow]) -> Iterable[tuple[Document, bool]]:
    """Batches cut so that their pieces follow one another in order of ``seq``, each with whether
    it begins an entry.
    """
    order = sorted(
        (seq, batch, row)
        for batch, stored in enumerate(batches)
        for row, seq in enumerate(stored.document["seq"])
    )
    rows: list[int] = []
    for index, (_seq, batch, row) in enumerate(order):
        rows.append(row)
        if index + 1 == len(order) or order[index + 1][1] != batch:
            yield take(batches[batch].document, rows), batches[batch].opens_entry and rows[0] == 0
            rows = []


def _joined(pieces: Iterable[tuple[Document, bool]]) -> list[Document]:
    entries: list[Document] = []
    for piece, opens in pieces:
        if entries and not opens and _continues(entries[-1], piece):
            names = _column_names(piece)
            entries[-1] = {
                key: value + piece[key] if key in names else value
                for key, value in entries[-1].items()
            }
        else:
            entries.append(piece)
    return entries


def _continues(entry: Document, piece: Document) -> bool:
    names = _column_names(piece)
    return (
        _column_names(entry) == names
        and piece["t_ms"][0] >= entry["t_ms"][-1]
        and {key: value for key, value in entry.items() if key not in names}
        == {key: value for key, value in piece.items() if key not in names}
    )
