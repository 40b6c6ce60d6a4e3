"""Sessions as files: in whole or not at all, out as they came in."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, NotFoundError, TooLargeError
from ebbline.exchange import session_file
from ebbline.exchange.archive import MAX_PHOTOS_BYTES
from ebbline.exchange.session_file import MAX_FILE_BYTES
from ebbline.sessions import clock_checks
from ebbline.sessions.additions import add_wholly
from ebbline.sessions.refusals import CIRCULAR, CONFLICT, LOG_CONFLICT
from ebbline.sessions.setups import current_setup
from ebbline.store import breadcrumbs, logs, observations, photos, sessions, setups
from ebbline.store.content import same
from ebbline.store.models import ClockCheckRow, EventRow, ReadingRow
from ebbline.store.photos import PhotoFolder

MOST_BYTES = MAX_FILE_BYTES + MAX_PHOTOS_BYTES  # of a ZIP; JSON may have less

RUN_KEYS = ("format", "version", "breadcrumbs", "events", "readings", "photos", "logs")


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did. ``changed`` is False when all of it was held before."""

    id: UUID
    events: int
    readings: int
    fixes: int
    revision: int
    changed: bool


def refuse_size(size_bytes: int, start: bytes) -> None:
    """Refuse a file that is too large before reading more than its first few bytes.

    Raises:
        TooLargeError: more than we take of its kind.
    """
    most = MOST_BYTES if session_file.is_archive(start) else MAX_FILE_BYTES
    if size_bytes > most:
        raise TooLargeError("$", f"has {size_bytes:,} bytes; {most:,} are the most we take")


def read_file(data: bytes) -> tuple[dict[str, Any], dict[str, bytes]]:
    """A session file's document and its photos by hash; a plain JSON file has none.

    Raises:
        InputError: names the place and what is wrong there.
    """
    if session_file.is_archive(data):
        return session_file.load_archive(data)
    return session_file.load_document(data), {}


def import_file(db_session: Session, folder: PhotoFolder, data: bytes, now_ms: int) -> Imported:
    """Take in a session file, all of it or nothing; the same file again changes nothing.

    A set-up that was never held becomes the current revision, and the earlier ones are kept.

    Raises:
        InputError: the file is malformed.
        ConflictError: a record's id is held with other content.
    """
    document, pictures = read_file(data)
    session_id = UUID(document["session"]["id"])
    row = sessions.create_locked(db_session, session_id, now_ms)
    new_pictures: list[bool] = []

    def add() -> int:
        added = _add_all(db_session, session_id, document, now_ms)
        # Before the commit, so that no session names a picture that a crash has lost.
        new_pictures.extend(folder.put(sha256, content) for sha256, content in pictures.items())
        return added

    new = add_wholly(db_session, row, add, now_ms)
    return Imported(
        id=session_id,
        events=len(document.get("events") or []),
        readings=len(document.get("readings") or []),
        fixes=sum(len(entry["seq"]) for entry in document.get("breadcrumbs") or []),
        revision=current_setup(db_session, session_id).revision,
        changed=new > 0 or any(new_pictures),
    )


def export_document(
    db_session: Session, session_id: UUID, setup: dict[str, Any] | None = None
) -> dict[str, Any]:
    """The session as a session file's document, under another set-up than its own if given.

    Raises:
        NotFoundError: no such session.
    """
    current = current_setup(db_session, session_id).document
    setup = current if setup is None else setup
    checks = observations.in_order_of_arrival(db_session, ClockCheckRow, session_id)
    held_logs = logs.in_order_of_arrival(db_session, session_id)
    return {
        "format": session_file.FORMAT,
        "version": session_file.VERSION,
        **clock_checks.with_offsets(setup, checks),
        "breadcrumbs": breadcrumbs.merged(db_session, session_id),
        "events": observations.in_order_of_arrival(db_session, EventRow, session_id),
        "readings": observations.in_order_of_arrival(db_session, ReadingRow, session_id),
        "photos": photos.documents(db_session, session_id),
        **({"logs": held_logs} if held_logs else {}),
    }


@dataclass(frozen=True, slots=True)
class Exported:
    """A session file's bytes, and whether they are a ZIP."""

    content: bytes
    is_archive: bool


def export_file(db_session: Session, folder: PhotoFolder, session_id: UUID) -> Exported:
    """The session as a file: JSON, or a ZIP when we hold its photos.

    Raises:
        NotFoundError: no such session, or some of its photos but not all are here.
    """
    document = export_document(db_session, session_id)
    held = {record["sha256"]: folder.get(record["sha256"]) for record in document["photos"]}
    pictures = {sha256: content for sha256, content in held.items() if content is not None}
    if pictures and len(pictures) < len(held):
        missing = next(sha256 for sha256, content in held.items() if content is None)
        raise NotFoundError(f"photo {missing} is named by the session, but its picture isn't here")
    if pictures:
        return Exported(session_file.dump_archive(document, pictures), is_archive=True)
    return Exported(session_file.dump_document(document), is_archive=False)


def sha256_of(data: bytes) -> str:
    """The hash that names an input in a result document."""
    return hashlib.sha256(data).hexdigest()


def _add_all(db_session: Session, session_id: UUID, document: dict[str, Any], now_ms: int) -> int:
    """Add everything that is not there yet; how much was new."""
    return _add_setup(db_session, session_id, document, now_ms) + add_run(
        db_session, session_id, document, now_ms
    )


def add_run(db_session: Session, session_id: UUID, document: dict[str, Any], now_ms: int) -> int:
    """Add what a run recorded and is not there yet; how much was new. The session must be locked,
    and what was added must be rolled back when this raises.

    Raises:
        ConflictError: a record's id is held with other content.
    """
    new = 0
    for key, table in (("events", EventRow), ("readings", ReadingRow)):
        records = document.get(key) or []
        added = observations.add_new(db_session, table, session_id, records, now_ms)
        _refuse(added.conflicting, f"{key}[{{}}].id", CONFLICT)
        _refuse(added.circular, f"{key}[{{}}].corrects", CIRCULAR)
        new += len(added.new)
    entries = document.get("breadcrumbs") or []
    for index, fixes in enumerate(breadcrumbs.add_all(db_session, session_id, entries, now_ms)):
        _refuse(fixes.conflicting, f"breadcrumbs[{index}], seq {{}}", CONFLICT)
        new += len(fixes.new)
    kept = logs.add_new(db_session, session_id, document.get("logs") or [], now_ms)
    _refuse(kept.conflicting, "logs[{}]", LOG_CONFLICT)
    new += len(kept.new)
    return new + photos.add_new(db_session, session_id, document.get("photos") or [], now_ms)


def _add_setup(db_session: Session, session_id: UUID, document: dict[str, Any], now_ms: int) -> int:
    setup = {key: part for key, part in document.items() if key not in RUN_KEYS}
    checks = observations.in_order_of_arrival(db_session, ClockCheckRow, session_id)
    for held in setups.revisions(db_session, session_id):
        exported = clock_checks.with_offsets(held.document, checks)
        if same(setup, held.document) or same(setup, exported):
            return 0
    setups.add(db_session, session_id, setup, now_ms)
    return 1


def _refuse(offending: list[int], place: str, problem: str) -> None:
    if offending:
        raise ConflictError(
            f"{place.format(offending[0])}: {problem}; nothing of the file was taken"
        )
