"""Sessions of the database compared, by the results kept of them: nothing is analysed here."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

import orjson
from sqlalchemy.orm import Session

from ebbline.campaigns.naming import names_of
from ebbline.engine import comparison_engine_id, engine_id
from ebbline.errors import ConflictError
from ebbline.exchange import clock_checks, comparison_document
from ebbline.records.campaign import Definition
from ebbline.records.comparison import Drive, LeftOut
from ebbline.report.file_name import file_name
from ebbline.sessions.records.setups import current_setup
from ebbline.sessions.results.publishing import (
    ConsumptionChoice,
    Made,
    TemperatureChoice,
    UnitsChoice,
)
from ebbline.store import observations, results
from ebbline.store.models import ClockCheckRow, Document, EventRow, ReadingRow

BEHIND = "its figures are being renewed"


def comparison_by(db_session: Session, definition: Definition) -> Document:
    """The comparison document of sessions by a definition. Those without a result by this engine
    are left out for now, and named in ``behind`` besides.
    """
    from ebbline.compare.comparison import compare

    drives = _drives(db_session, definition.named)
    behind = [
        str(session_id)
        for session_id, drive in drives
        if drive is None and session_id in definition.session_ids
    ]
    left_out = [LeftOut(str(one.session_id), one.why) for one in definition.left_out]
    left_out += [LeftOut(session_id, BEHIND) for session_id in behind]
    found = compare(
        [drive for _, drive in drives if drive is not None],
        definition.zero_basis,
        definition.reserve_end,
        left_out,
    )
    return {**comparison_document.to_document(found), "behind": behind}


def pair_of(db_session: Session, one: UUID, other: UUID) -> Document:
    """Two sessions side by side.

    Raises:
        NotFoundError: one of them isn't there.
        ConflictError: the result of one is behind; it must be worked out first.
    """
    from ebbline.compare.pair import compare_two

    return comparison_document.pair_document(compare_two(*_two(db_session, one, other)))


def picture_of(
    db_session: Session,
    one: UUID,
    other: UUID,
    units: UnitsChoice,
    consumption: ConsumptionChoice | None = None,
    temperature: TemperatureChoice | None = None,
) -> Made:
    """Two sessions side by side as a picture for a film, PNG of 1920 by 1080.

    Raises:
        NotFoundError: one of them isn't there.
        ConflictError: the result of one is behind; it must be worked out first.
    """
    from ebbline.compare.pair import compare_two
    from ebbline.report import pair_card
    from ebbline.report.figures import Units

    drives = _two(db_session, one, other)
    setups = [current_setup(db_session, session_id).setup for session_id in (one, other)]
    content = pair_card.picture(
        compare_two(*drives),
        (_name(setups[0]), _name(setups[1])),
        Units(units, consumption, temperature),
        comparison_engine_id(),
        (drives[0].shut_down_before_zero, drives[1].shut_down_before_zero),
    )
    return Made(content, f"{_file_name(setups)}.png", "image/png")


def _name(setup: Document) -> str:
    """What people call a session: its car, and its title where that says more."""
    car, title, _ = names_of(setup)
    if car and title and not title.startswith(car):
        return f"{car}, {title}"
    return title or car or "Session without a name"


def _file_name(setups: Sequence[Document]) -> str:
    """The cars, and the days where it is the same car again, as the page names its own files."""
    (car, title, day), (other_car, other_title, other_day) = map(names_of, setups)
    one, other = car or title, other_car or other_title
    named = f"{one} {day} {other_day}" if one == other else f"{one} {other}"
    return file_name(named) or "two-sessions"


def _two(db_session: Session, one: UUID, other: UUID) -> tuple[Drive, Drive]:
    drives = dict(_drives(db_session, (one, other)))
    for session_id, drive in drives.items():
        if drive is None:
            raise ConflictError(f"session {session_id} can't be compared: {BEHIND}")
    first, second = drives[one], drives[other]
    assert first is not None
    assert second is not None
    return first, second


def _drives(db_session: Session, session_ids: Sequence[UUID]) -> list[tuple[UUID, Drive | None]]:
    return [(session_id, _drive(db_session, session_id)) for session_id in session_ids]


def noted_of(db_session: Session, session_id: UUID) -> Document:
    """What people stated and noted of a session: its document without positions, logs and photos.

    Raises:
        NotFoundError: no such session.
    """
    setup = current_setup(db_session, session_id).setup
    checks = observations.in_order_of_arrival(db_session, ClockCheckRow, session_id)
    return {
        **clock_checks.with_offsets(setup, checks),
        "events": observations.in_order_of_arrival(db_session, EventRow, session_id),
        "readings": observations.in_order_of_arrival(db_session, ReadingRow, session_id),
        "photos": [],
    }


def _drive(db_session: Session, session_id: UUID) -> Drive | None:
    from ebbline.exchange.drives import drive_of

    held = results.cached(db_session, session_id, engine_id())
    return None if held is None else drive_of(noted_of(db_session, session_id), orjson.loads(held))
