"""What a run recorded, added to a session as a whole."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import ConflictError
from ebbline.sessions.records.conflicts import CIRCULAR, DIFFERENT, DIFFERENT_LOG
from ebbline.store import breadcrumbs, logs, observations, photos
from ebbline.store.models import EventRow, ReadingRow


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
        _refuse(added.conflicting, f"{key}[{{}}].id", DIFFERENT)
        _refuse(added.circular, f"{key}[{{}}].corrects", CIRCULAR)
        new += len(added.new)
    entries = document.get("breadcrumbs") or []
    for index, fixes in enumerate(breadcrumbs.add_all(db_session, session_id, entries, now_ms)):
        _refuse(fixes.conflicting, f"breadcrumbs[{index}], seq {{}}", DIFFERENT)
        new += len(fixes.new)
    kept = logs.add_new(db_session, session_id, document.get("logs") or [], now_ms)
    _refuse(kept.conflicting, "logs[{}]", DIFFERENT_LOG)
    new += len(kept.new)
    return new + photos.add_new(db_session, session_id, document.get("photos") or [], now_ms)


def _refuse(offending: list[int], place: str, problem: str) -> None:
    if offending:
        raise ConflictError(
            f"{place.format(offending[0])}: {problem}; nothing of the file was taken"
        )
