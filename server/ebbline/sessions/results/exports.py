"""What was derived from a session, for other programs. Each format's library is imported when it
is asked for.
"""

from __future__ import annotations

from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.sessions.records.document import document_of
from ebbline.sessions.results.results import analysis_of


def export_csv(db_session: Session, session_id: UUID) -> str:
    """The derived curves as CSV.

    Raises:
        NotFoundError: no such session.
    """
    from ebbline.exchange.curves_csv import curves_csv

    return curves_csv(analysis_of(db_session, session_id).curves)


def export_gpx(db_session: Session, session_id: UUID) -> str:
    """The track and its events as GPX 1.1.

    Raises:
        NotFoundError: no such session.
    """
    from ebbline.exchange.gpx import track_gpx

    return track_gpx(document_of(db_session, session_id))
