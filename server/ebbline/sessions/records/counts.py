"""How much a session holds of one device, so that the device can tell when something was lost."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.store import breadcrumbs, observations, photos, setups
from ebbline.store.models import ClockCheckRow, EventRow, ReadingRow


def counts_of_device(db_session: Session, session_id: UUID, device: str) -> dict[str, int]:
    """How much is held of what this device recorded, and the set-up's revision (0: none).

    Records are only ever added, so a count below what a device was once told says that this
    server is an older copy of the one that told it.
    """
    setup = setups.current(db_session, session_id)
    return {
        **{
            name: observations.count(db_session, table, session_id, device)
            for name, table in (
                ("events", EventRow),
                ("readings", ReadingRow),
                ("clock_checks", ClockCheckRow),
            )
        },
        "fixes": breadcrumbs.count(db_session, session_id, device),
        "photos": sum(
            one.get("device") == device for one in photos.documents(db_session, session_id)
        ),
        "revision": 0 if setup is None else setup.revision,
    }
