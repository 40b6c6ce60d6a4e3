"""What followers ask for: whether anything came, and how it stands now."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.sessions.live.snapshot import Live
from ebbline.store import sessions


def cursor_of(db_session: Session, session_id: UUID) -> int:
    """Rises with every addition to a session.

    Raises:
        NotFoundError: no such session.
    """
    return sessions.find(db_session, session_id).additions


def live_of(db_session: Session, session_id: UUID) -> Live:
    """How a session stands by what has arrived. What measures it is loaded for the first who asks.

    Raises:
        NotFoundError: no such session.
    """
    from ebbline.sessions.live.status import status_of

    return status_of(db_session, session_id)
