"""Recordings of other devices, imported into a session: all of a file or nothing.

What reads GPX and CSV is imported when a file comes: pandas alone takes as long to load as all that
a phone's upload needs.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.exchange.csv_mapping import to_mapping
from ebbline.exchange.recording import Origin, Recording, kind_of, written_from
from ebbline.sessions.records.atomic import add_atomically
from ebbline.sessions.records.run import add_run
from ebbline.sessions.records.setups import current_setup, put_setup
from ebbline.store import breadcrumbs, sessions

_SESSIONS = uuid.UUID("5d1c6a42-84c7-4f43-8f0c-0a4f4f7f9b1e")  # any constant of our own


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """What the user states of a file, beside its bytes."""

    name: str
    device: str | None = None
    zone: str | None = None
    mapping: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class ImportedRecording:
    """What an import did. ``changed`` is False when all of it was held before."""

    id: UUID
    devices: list[str]
    fixes: int
    events: int
    log_rows: int
    notes: list[str]
    changed: bool


def read_recording(data: bytes, options: ImportOptions) -> Recording:
    """Read a GPX or CSV file; touches no database.

    Raises:
        InputError: names the place and what is wrong there; a CSV without a mapping is refused.
        TooLargeError: more than we take.
    """
    origin = Origin.of(data, options.name, options.device)
    kind = kind_of(data)
    if kind == "gpx":
        if options.mapping is not None:
            raise InputError("mapping", "belongs to CSV, and this is XML")
        from ebbline.exchange.gpx_reading import read_gpx

        return read_gpx(data, origin, options.zone)
    if kind != "csv":
        raise InputError("$", "is a session file; import it as one")
    if options.mapping is None:
        raise InputError("mapping", "is missing: say which column of the CSV is what")
    from ebbline.exchange.csv_reading import read_csv

    return read_csv(data, to_mapping(options.mapping, options.zone), origin)


def import_recording(
    db_session: Session, session_id: UUID, data: bytes, options: ImportOptions, now_ms: int
) -> ImportedRecording:
    """Take a GPX or CSV file into a session that exists; the same file again changes nothing.

    Raises:
        InputError: the file or what was stated of it is malformed.
        ConflictError: the same rows are held as something else (another zone or mapping).
        NotFoundError: no such session.
    """
    recording = read_recording(data, options)
    return add_recording(db_session, session_id, recording, now_ms)


def add_recording(
    db_session: Session, session_id: UUID, recording: Recording, now_ms: int
) -> ImportedRecording:
    """Take in what was read already.

    Raises:
        ConflictError: the same rows are held as something else (another zone or mapping), or the
            file was written from this very session.
        NotFoundError: no such session.
    """
    if recording.written_from == written_from(str(session_id)):
        raise ConflictError("this file was written from this session, which holds all of it")
    pieces = {
        "breadcrumbs": recording.breadcrumbs,
        "events": recording.events,
        "logs": recording.logs,
    }
    row = sessions.lock(db_session, session_id)

    def add() -> int:
        _refuse_taken_devices(db_session, session_id, recording)
        return add_run(db_session, session_id, pieces, now_ms)

    new = add_atomically(db_session, row, add, now_ms)
    return ImportedRecording(
        id=session_id,
        devices=recording.devices(),
        fixes=recording.count_fixes(),
        events=len(recording.events),
        log_rows=recording.count_log_rows(),
        notes=recording.notes,
        changed=new > 0,
    )


def import_as_session(
    db_session: Session, data: bytes, options: ImportOptions, now_ms: int
) -> ImportedRecording:
    """Take a GPX or CSV file in as a session of its own; the same file gives the same session.

    Raises:
        InputError: the file or what was stated of it is malformed; then no session is made.
        ConflictError: its session holds the same rows as something else.
    """
    recording = read_recording(data, options)
    session_id = session_for(db_session, data, options.name, now_ms)
    return add_recording(db_session, session_id, recording, now_ms)


def session_for(db_session: Session, data: bytes, name: str, now_ms: int) -> UUID:
    """A session for a recording that has none yet; the same file gives the same session."""
    session_id = uuid.uuid5(_SESSIONS, Origin.of(data, name).sha256)
    try:
        current_setup(db_session, session_id)
    except NotFoundError:
        setup = {"session": {"id": str(session_id), "title": name}}
        put_setup(db_session, session_id, None, setup, now_ms)
    return session_id


def _refuse_taken_devices(db_session: Session, session_id: UUID, recording: Recording) -> None:
    """A device's fixes are counted once: nothing may be put among those of another recorder,
    which might still be sending.
    """
    for entry in recording.breadcrumbs:
        held = breadcrumbs.first_entry(db_session, session_id, entry["device"])
        source = None if held is None else held.get("source")
        digest = source.get("sha256") if isinstance(source, dict) else None
        if held is not None and digest != entry["source"]["sha256"]:
            raise ConflictError(
                f"device {entry['device']!r} has recorded positions of its own in this session; "
                "give the file another device; nothing of it was taken"
            )
