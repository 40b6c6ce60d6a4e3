"""Making a session and revising its set-up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.exchange import session_file
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import sessions, setups
from ebbline.store.content import same
from ebbline.store.models import SetupRow


@dataclass(frozen=True, slots=True)
class Revision:
    """One revision of a set-up, and when it came (RFC 3339)."""

    revision: int
    saved_at: str
    setup: dict[str, Any]


def put_setup(
    db_session: Session, session_id: UUID, base: int | None, setup: dict[str, Any], now_ms: int
) -> Revision:
    """Create a session, or revise its set-up; giving the current content again changes nothing.

    ``base`` is the revision that the new content was made from, None for a session not there
    yet.

    Raises:
        InputError: the set-up is malformed or names another session.
        ConflictError: somebody else revised it since ``base``; ``held`` is the current one.
    """
    checked_setup(session_id, setup)
    row = sessions.create_locked(db_session, session_id, now_ms)
    held = setups.current(db_session, session_id)
    if held is not None and same(held.document, setup):
        db_session.rollback()
        return current_setup(db_session, session_id)
    if base != (None if held is None else held.revision):
        db_session.rollback()
        if held is None:
            raise NotFoundError(f"there is no session {session_id}, so none at revision {base}")
        now = current_setup(db_session, session_id)
        raise ConflictError(
            f"the choices were changed by someone else: they are at revision {now.revision}, "
            f"yours was made from {'none' if base is None else base}",
            held={"revision": now.revision, "setup": now.setup},
        )
    added = _revision(setups.add(db_session, session_id, setup, now_ms))
    sessions.note_addition(row, now_ms)
    db_session.commit()
    return added


def checked_setup(session_id: UUID, setup: object) -> dict[str, Any]:
    """A set-up for this session, as it was given.

    Raises:
        InputError: the set-up is malformed or names another session.
    """
    session_file.check_setup(setup, "setup")
    assert isinstance(setup, dict)
    if UUID(setup["session"]["id"]) != session_id:
        raise InputError("setup.session.id", f"is not {session_id}, the session asked for")
    return setup


def revisions(db_session: Session, session_id: UUID) -> list[Revision]:
    """Every revision of a session's set-up, the first one first.

    Raises:
        NotFoundError: no such session.
    """
    sessions.find(db_session, session_id)
    return [_revision(row) for row in setups.revisions(db_session, session_id)]


def current_setup(db_session: Session, session_id: UUID) -> Revision:
    """The set-up as it stands.

    Raises:
        NotFoundError: no such session.
    """
    row = setups.current(db_session, session_id)
    if row is None:
        raise NotFoundError(f"there is no session {session_id}")
    return _revision(row)


def _revision(row: SetupRow) -> Revision:
    return Revision(row.revision, rfc3339(row.received_ms), row.document)
