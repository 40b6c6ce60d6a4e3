"""What a session holds of one device, so that the device can tell when something was lost."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ebbline.store import photos, setups
from ebbline.store.models import BreadcrumbsRow, ClockCheckRow, EventRow, ReadingRow
from ebbline.store.observations import Table

_TABLES: dict[str, Table] = {
    "events": EventRow,
    "readings": ReadingRow,
    "clock_checks": ClockCheckRow,
}


def holdings(db_session: Session, session_id: UUID, device: str) -> dict[str, int]:
    """How much is held of what this device recorded, and the set-up's revision (0: none).

    Records are only ever added, so a count below what a device was once told says that this
    server is an older copy of the one that told it.
    """
    held = {
        name: db_session.scalar(
            select(func.count()).where(table.session_id == session_id, table.device == device)
        )
        for name, table in _TABLES.items()
    }
    held["fixes"] = db_session.scalar(
        select(func.sum(BreadcrumbsRow.count)).where(
            BreadcrumbsRow.session_id == session_id, BreadcrumbsRow.device == device
        )
    )
    pictures = photos.documents(db_session, session_id)
    held["photos"] = sum(one.get("device") == device for one in pictures)
    setup = setups.current(db_session, session_id)
    held["revision"] = 0 if setup is None else setup.revision
    return {name: int(count or 0) for name, count in held.items()}
