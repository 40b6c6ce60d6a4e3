"""What earlier sessions know, asked of every database that holds them."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from exchange.documents import ID, T_MS
from sqlalchemy.orm import Session

from ebbline.sessions.overview.known import KnownCar, KnownWarning, known_from
from ebbline.sessions.records.setups import put_setup
from ebbline.sessions.records.uploads import Upload, store_records


def warning(name: str, **said: Any) -> dict[str, Any]:
    return {"id": name, "device": "p", "t_ms": T_MS, "kind": "warning", **said}


def test_cars_and_warnings_are_found_and_nulls_say_nothing(db_session: Session) -> None:
    for number, vehicle in enumerate(
        ({"label": "Car A", "pack": {"usable_kwh": 58, "chemistry": None}, "lender": None}, None)
    ):
        session_id = UUID(int=UUID(ID).int + number)
        setup = {"session": {"id": str(session_id)}, "vehicle": vehicle, "conditions": None}
        put_setup(db_session, session_id, None, setup, T_MS + number)
    events = [
        warning("a", text="Pull over", **{"class": "stop_soon"}),
        warning("b", text="Charge", **{"class": None}),
        warning("c", text=None, **{"class": "stop_now"}),
        {**warning("d", text="Pull over", **{"class": "other"}), "kind": "note"},
    ]
    store_records(db_session, UUID(ID), Upload(events, [], [], [], False), T_MS)
    known = known_from(db_session)
    assert known.cars == [KnownCar("Car A", {"vehicle.pack.usable_kwh": 58}, T_MS)]
    assert known.warnings == [KnownWarning("Pull over", "stop_soon")]
