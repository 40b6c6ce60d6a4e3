"""Working out what the list doesn't know yet, a piece at a time: after an addition, and for every
session after a change of what computes results.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.sessions.overview.recorded import bring_up_to_date
from ebbline.sessions.results.line import tell_line
from ebbline.store import overviews

PIECE_S = 1.0  # about as long as whoever asks is kept waiting
CLAIM_MS = 5 * 60_000  # then another may try what somebody began and never ended


@dataclass(frozen=True, slots=True)
class Renewed:
    """How many sessions were worked out, and how many still tell figures of before or none."""

    done: int
    left: int


def renew(
    db_session: Session,
    now_ms: Callable[[], int],
    first: Sequence[UUID] = (),
    for_s: float = PIECE_S,
) -> Renewed:
    """Work out sessions whose figures are behind, at least one, while time lasts: those of
    ``first`` before others, then the latest starts. Whoever asks at the same time gets others.
    """
    bring_up_to_date(db_session)
    stop_at = time.monotonic() + for_s
    done = 0
    while done == 0 or time.monotonic() < stop_at:
        now = now_ms()
        session_id = overviews.claim_behind_the_engine(
            db_session, engine_id(), first, now, now + CLAIM_MS
        )
        if session_id is None:
            break
        tell_line(db_session, session_id)
        done += 1
    return Renewed(done, overviews.count_behind_the_engine(db_session, engine_id()))


def work_out(db_session: Session, session_id: UUID) -> None:
    """See to it that a session's line in the list tells what it means; evidence that can't be
    analysed stays without figures.

    Raises:
        NotFoundError: no such session.
    """
    bring_up_to_date(db_session)
    tell_line(db_session, session_id)
