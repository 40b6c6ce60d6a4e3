"""Sessions as files: in whole or not at all, out as they came in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import NotFoundError
from ebbline.exchange import clock_checks, session_file
from ebbline.sessions.records.atomic import add_atomically
from ebbline.sessions.records.document import document_of
from ebbline.sessions.records.run import add_run
from ebbline.sessions.records.setups import current_setup
from ebbline.store import observations, sessions, setups
from ebbline.store.content import same
from ebbline.store.models import ClockCheckRow
from ebbline.store.photos import PhotoFolder


@dataclass(frozen=True, slots=True)
class ImportedSession:
    """What an import did. ``changed`` is False when all of it was held before."""

    id: UUID
    events: int
    readings: int
    fixes: int
    revision: int
    changed: bool


def import_file(
    db_session: Session, folder: PhotoFolder, data: bytes, now_ms: int
) -> ImportedSession:
    """Take in a session file, all of it or nothing; the same file again changes nothing.

    A set-up that was never held becomes the current revision, and the earlier ones are kept.

    Raises:
        InputError: the file is malformed.
        ConflictError: a record's id is held with other content.
    """
    document, pictures = session_file.load_file(data)
    session_id = UUID(document["session"]["id"])
    row = sessions.create_locked(db_session, session_id, now_ms)
    new_pictures: list[bool] = []

    def add() -> int:
        added = _add_all(db_session, session_id, document, now_ms)
        # Before the commit, so that no session names a picture that a crash has lost.
        new_pictures.extend(folder.put(sha256, content) for sha256, content in pictures.items())
        return added

    new = add_atomically(db_session, row, add, now_ms)
    return ImportedSession(
        id=session_id,
        events=len(document.get("events") or []),
        readings=len(document.get("readings") or []),
        fixes=sum(len(entry["seq"]) for entry in document.get("breadcrumbs") or []),
        revision=current_setup(db_session, session_id).revision,
        changed=new > 0 or any(new_pictures),
    )


@dataclass(frozen=True, slots=True)
class ExportedSession:
    """A session file's bytes, and whether they are a ZIP."""

    content: bytes
    is_archive: bool

    @property
    def ending(self) -> str:
        """What a file's name ends in: 'ebbline.zip' or 'ebbline.json'."""
        return "ebbline.zip" if self.is_archive else "ebbline.json"


def export_file(db_session: Session, folder: PhotoFolder, session_id: UUID) -> ExportedSession:
    """The session as a file: JSON, or a ZIP when we hold its photos.

    Raises:
        NotFoundError: no such session, or some of its photos but not all are here.
    """
    document = document_of(db_session, session_id)
    held = {record["sha256"]: folder.get(record["sha256"]) for record in document["photos"]}
    pictures = {sha256: content for sha256, content in held.items() if content is not None}
    if pictures and len(pictures) < len(held):
        missing = next(sha256 for sha256, content in held.items() if content is None)
        raise NotFoundError(f"photo {missing} is named by the session, but its picture isn't here")
    if pictures:
        return ExportedSession(session_file.dump_archive(document, pictures), is_archive=True)
    return ExportedSession(session_file.dump_document(document), is_archive=False)


def _add_all(db_session: Session, session_id: UUID, document: dict[str, Any], now_ms: int) -> int:
    """Add everything that is not there yet; how much was new."""
    return _add_setup(db_session, session_id, document, now_ms) + add_run(
        db_session, session_id, document, now_ms
    )


def _add_setup(db_session: Session, session_id: UUID, document: dict[str, Any], now_ms: int) -> int:
    setup = session_file.setup_of(document)
    checks = observations.in_order_of_arrival(db_session, ClockCheckRow, session_id)
    for held in setups.revisions(db_session, session_id):
        exported = clock_checks.with_offsets(held.document, checks)
        if same(setup, held.document) or same(setup, exported):
            return 0
    setups.add(db_session, session_id, setup, now_ms)
    return 1
