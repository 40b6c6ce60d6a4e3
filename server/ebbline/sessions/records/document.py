"""A session as one document: the evidence that results are found from and files carry."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.exchange import clock_checks
from ebbline.exchange.document import FORMAT, VERSION
from ebbline.sessions.records.setups import current_setup
from ebbline.store import breadcrumbs, logs, observations, photos
from ebbline.store.models import ClockCheckRow, EventRow, ReadingRow


def document_of(
    db_session: Session, session_id: UUID, setup: dict[str, Any] | None = None
) -> dict[str, Any]:
    """The session as a session file's document, under another set-up than its own if given.

    Raises:
        NotFoundError: no such session.
    """
    current = current_setup(db_session, session_id).setup
    setup = current if setup is None else setup
    checks = observations.in_order_of_arrival(db_session, ClockCheckRow, session_id)
    held_logs = logs.in_order_of_arrival(db_session, session_id)
    return {
        "format": FORMAT,
        "version": VERSION,
        **clock_checks.with_offsets(setup, checks),
        "breadcrumbs": breadcrumbs.merged(db_session, session_id),
        "events": observations.in_order_of_arrival(db_session, EventRow, session_id),
        "readings": observations.in_order_of_arrival(db_session, ReadingRow, session_id),
        "photos": photos.documents(db_session, session_id),
        **({"logs": held_logs} if held_logs else {}),
    }
