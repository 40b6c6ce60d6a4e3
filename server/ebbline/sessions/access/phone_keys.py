"""Keys that let a phone into one session until they are revoked: to add to it, or only to look.

What a phone holds is the token ``<session id>.<secret>``. The secret has 256 random bits, so a
plain hash of it can't be guessed back.
"""

from __future__ import annotations

import hashlib
import secrets
import uuid
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import InputError, NotFoundError
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import access, sessions
from ebbline.store.engine import begin_write
from ebbline.store.models import KeyRow

LONGEST_LABEL = 60
NOTE_USE_EVERY_MS = 60_000  # a phone asks every second; not each time is worth a write


@dataclass(frozen=True, slots=True)
class Key:
    """What is known of a key; times are RFC 3339. One that ``looks`` adds nothing. ``devices`` is
    the one that it belongs to since it added first; of keys used before that rule, several.
    """

    id: UUID
    session_id: UUID
    label: str
    looks: bool
    created_at: str
    last_used_at: str | None
    revoked_at: str | None
    devices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NewKey:
    """A key just made: the only time that its token is seen."""

    id: UUID
    label: str
    looks: bool
    token: str


def make_key(
    db_session: Session, session_id: UUID, label: str, now_ms: int, *, looks: bool = False
) -> NewKey:
    """Make a key for one session. A label that another key of it has gets a number, so that the
    right one can be shut out.

    Raises:
        NotFoundError: no such session.
        InputError: the label won't do.
    """
    label = label.strip()
    if not 1 <= len(label) <= LONGEST_LABEL or not label.isprintable():
        raise InputError("label", f"must be 1 to {LONGEST_LABEL} characters")
    secret = secrets.token_urlsafe(32)
    sessions.lock(db_session, session_id)
    label = _unlike(label, {row.label for row in access.keys(db_session, session_id)})
    row = KeyRow(
        id=uuid.uuid4(),
        session_id=session_id,
        label=label,
        secret_sha256=_sha256(secret),
        created_ms=now_ms,
        looks=looks,
    )
    access.add_key(db_session, row)
    made = NewKey(row.id, label, looks, f"{session_id}.{secret}")
    db_session.commit()
    return made


def keys_of(db_session: Session, session_id: UUID) -> list[Key]:
    """Every key that was made for a session, revoked ones too.

    Raises:
        NotFoundError: no such session.
    """
    sessions.find(db_session, session_id)
    return [_key(row) for row in access.keys(db_session, session_id)]


def revoke_key(db_session: Session, session_id: UUID, key_id: UUID, now_ms: int) -> Key:
    """Shut a key out for good; again changes nothing.

    Raises:
        NotFoundError: no such key of this session.
    """
    sessions.lock(db_session, session_id)
    row = access.key(db_session, session_id, key_id)
    if row is None:
        db_session.rollback()
        raise NotFoundError(f"session {session_id} has no key {key_id}")
    row.revoked_ms = now_ms if row.revoked_ms is None else row.revoked_ms
    revoked = _key(row)
    db_session.commit()
    return revoked


def key_of_token(db_session: Session, token: str, now_ms: int) -> Key | None:
    """The key whose token this is, a revoked one included; notes that it was used."""
    session_text, _, secret = token.partition(".")
    try:
        session_id = UUID(session_text)
    except ValueError:
        return None
    row = access.key_of(db_session, session_id, _sha256(secret))
    if row is None:
        return None
    stale = row.last_used_ms is None or row.last_used_ms + NOTE_USE_EVERY_MS <= now_ms
    if row.revoked_ms is None and stale:
        begin_write(db_session)
        row.last_used_ms = now_ms
        db_session.commit()
    return _key(row)


def bind_device(db_session: Session, key: Key, device: str) -> bool:
    """Whether a key may add for a device: the first one to add with it has it for good, so that
    a code that somebody else saw is worth nothing to him.
    """
    if key.devices:
        return device in key.devices
    sessions.lock(db_session, key.session_id)
    row = access.key(db_session, key.session_id, key.id)
    if row is not None and not row.devices:
        row.devices = [device]
    bound = row is not None and device in row.devices
    db_session.commit()
    return bound


def _unlike(label: str, taken: set[str]) -> str:
    found, number = label, 2
    while found in taken:
        end = f" ({number})"
        found, number = label[: LONGEST_LABEL - len(end)] + end, number + 1
    return found


def _sha256(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _key(row: KeyRow) -> Key:
    return Key(
        id=row.id,
        session_id=row.session_id,
        label=row.label,
        looks=row.looks,
        created_at=rfc3339(row.created_ms),
        last_used_at=None if row.last_used_ms is None else rfc3339(row.last_used_ms),
        revoked_at=None if row.revoked_ms is None else rfc3339(row.revoked_ms),
        devices=tuple(row.devices),
    )
