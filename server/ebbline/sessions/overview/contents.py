"""Everything recorded in one session, and putting it away."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.sessions.files.imported_files import ImportedFile, imported_files
from ebbline.sessions.records.setups import current_setup
from ebbline.store import breadcrumbs, observations, overviews, photos, sessions
from ebbline.store.models import ClockCheckRow, EventRow, ReadingRow


@dataclass(frozen=True, slots=True)
class Contents:
    """Everything one session holds but its fixes: originals and corrections alike."""

    id: UUID
    revision: int
    setup: dict[str, Any]
    events: list[dict[str, Any]]
    readings: list[dict[str, Any]]
    photos: list[dict[str, Any]]
    clock_checks: list[dict[str, Any]]
    imported_files: list[ImportedFile]
    fix_count: int
    archived: bool


def contents_of(db_session: Session, session_id: UUID) -> Contents:
    """Everything recorded in one session, each kind in order of arrival: of two corrections of one
    record the later one counts.

    Raises:
        NotFoundError: no such session.
    """
    setup = current_setup(db_session, session_id)
    return Contents(
        id=session_id,
        revision=setup.revision,
        setup=setup.setup,
        events=observations.in_order_of_arrival(db_session, EventRow, session_id),
        readings=observations.in_order_of_arrival(db_session, ReadingRow, session_id),
        photos=photos.documents(db_session, session_id),
        clock_checks=observations.in_order_of_arrival(db_session, ClockCheckRow, session_id),
        imported_files=imported_files(db_session, session_id),
        fix_count=breadcrumbs.count(db_session, session_id),
        archived=sessions.find(db_session, session_id).archived_ms is not None,
    )


def set_archived(db_session: Session, session_id: UUID, archived: bool, now_ms: int) -> None:
    """Put a session away, or take it out again; nothing of it changes.

    Raises:
        NotFoundError: no such session.
    """
    row = sessions.lock(db_session, session_id)
    if (row.archived_ms is not None) == archived:
        db_session.rollback()
        return
    row.archived_ms = now_ms if archived else None
    overviews.keep_archived(db_session, session_id, archived)
    db_session.commit()
