"""Evidence that others recorded, taken into a session: all of a file or nothing."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.exchange.csv_mapping import to_mapping
from ebbline.exchange.csv_reading import read_csv
from ebbline.exchange.evidence import Evidence, Origin, kind_of
from ebbline.exchange.gpx_reading import read_gpx
from ebbline.sessions.additions import add_wholly
from ebbline.sessions.files import add_run
from ebbline.sessions.setups import current_setup, put_setup
from ebbline.store import breadcrumbs, sessions

_SESSIONS = uuid.UUID("5d1c6a42-84c7-4f43-8f0c-0a4f4f7f9b1e")  # any constant of our own


@dataclass(frozen=True, slots=True)
class Stated:
    """What the user states of a file, beside its bytes."""

    name: str
    device: str | None = None
    zone: str | None = None
    mapping: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Taken:
    """What an import of evidence did. ``changed`` is False when all of it was held before."""

    id: UUID
    devices: list[str]
    fixes: int
    events: int
    log_rows: int
    notes: list[str]
    changed: bool


def read_evidence(data: bytes, stated: Stated) -> Evidence:
    """Read a GPX or CSV file; touches no database.

    Raises:
        InputError: names the place and what is wrong there; a CSV without a mapping is refused.
        TooLargeError: more than we take.
    """
    origin = Origin.of(data, stated.name, stated.device)
    kind = kind_of(data)
    if kind == "gpx":
        if stated.mapping is not None:
            raise InputError("mapping", "belongs to CSV, and this is XML")
        return read_gpx(data, origin, stated.zone)
    if kind != "csv":
        raise InputError("$", "is a session file; import it as one")
    if stated.mapping is None:
        raise InputError("mapping", "is missing: say which column of the CSV is what")
    return read_csv(data, to_mapping(stated.mapping, stated.zone), origin)


def add_evidence(
    db_session: Session, session_id: UUID, data: bytes, stated: Stated, now_ms: int
) -> Taken:
    """Take a GPX or CSV file into a session that exists; the same file again changes nothing.

    Raises:
        InputError: the file or what was stated of it is malformed.
        ConflictError: the same rows are held as something else (another zone or mapping).
        NotFoundError: no such session.
    """
    evidence = read_evidence(data, stated)
    return add_read(db_session, session_id, evidence, now_ms)


def add_read(db_session: Session, session_id: UUID, evidence: Evidence, now_ms: int) -> Taken:
    """Take in what was read already.

    Raises:
        ConflictError: the same rows are held as something else (another zone or mapping).
        NotFoundError: no such session.
    """
    pieces = {
        "breadcrumbs": evidence.breadcrumbs,
        "events": evidence.events,
        "logs": evidence.logs,
    }
    row = sessions.lock(db_session, session_id)

    def add() -> int:
        _refuse_taken_devices(db_session, session_id, evidence)
        return add_run(db_session, session_id, pieces, now_ms)

    new = add_wholly(db_session, row, add, now_ms)
    return Taken(
        id=session_id,
        devices=evidence.devices(),
        fixes=evidence.count_fixes(),
        events=len(evidence.events),
        log_rows=evidence.count_log_rows(),
        notes=evidence.notes,
        changed=new > 0,
    )


def create_for(db_session: Session, data: bytes, name: str, now_ms: int) -> UUID:
    """A session for evidence that has none yet; the same file gives the same session."""
    session_id = uuid.uuid5(_SESSIONS, Origin.of(data, name).sha256)
    try:
        current_setup(db_session, session_id)
    except NotFoundError:
        setup = {"session": {"id": str(session_id), "title": name}}
        put_setup(db_session, session_id, None, setup, now_ms)
    return session_id


def _refuse_taken_devices(db_session: Session, session_id: UUID, evidence: Evidence) -> None:
    """A device's fixes are counted once: nothing may be put among those of another recorder,
    which might still be sending.
    """
    for entry in evidence.breadcrumbs:
        held = breadcrumbs.first_entry(db_session, session_id, entry["device"])
        source = None if held is None else held.get("source")
        digest = source.get("sha256") if isinstance(source, dict) else None
        if held is not None and digest != entry["source"]["sha256"]:
            raise ConflictError(
                f"device {entry['device']!r} has recorded positions of its own in this session; "
                "give the file another device; nothing of it was taken"
            )
