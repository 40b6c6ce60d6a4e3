"""Adding to a session atomically: everything that came together, or nothing."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy.orm import Session

from ebbline.store import sessions
from ebbline.store.models import SessionRow


def add_atomically(
    db_session: Session, row: SessionRow, add: Callable[[], int], now_ms: int
) -> int:
    """Let ``add`` add to a session and say how much was new; that is returned.

    When this returns, what was new is held durably, and it is noted on the session's ``row``,
    which must be locked. Where nothing was new, or ``add`` raises, the session stays as it was.
    """
    try:
        new = add()
    except BaseException:
        db_session.rollback()
        raise
    if new:
        sessions.note_addition(row, now_ms)
        db_session.commit()
    else:
        db_session.rollback()
    return new
