"""What earlier sessions know, asked of every database that holds them."""

from __future__ import annotations

import csv
import io
from typing import Any
from uuid import UUID

from exchange.documents import ID, T_MS
from sqlalchemy.orm import Session

from ebbline.sessions.overview.known import KnownCar, KnownWarning, known_from
from ebbline.sessions.overview.search import Search
from ebbline.sessions.overview.table import sessions_csv
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


def test_the_table_of_sessions_has_every_fact_and_what_was_ticked(db_session: Session) -> None:
    ticked, denied = UUID(ID), UUID(int=UUID(ID).int + 1)
    pack = {"pack": {"usable_kwh": 58, "measured_kwh": 56.4}}
    said = {ticked: {"tyre_kpa": 290}, denied: {"full_charge_before": False}}
    for session_id, conditions in said.items():
        setup = {"session": {"id": str(session_id)}, "vehicle": pack, "conditions": conditions}
        put_setup(db_session, session_id, None, setup, T_MS)
        note = {"id": "t", "device": "p", "t_ms": T_MS, "kind": "note", "log": "checklist",
                "checklist": {"item": "charged_full", "ticked": True}}  # fmt: skip
        store_records(db_session, session_id, Upload([note], [], [], [], False), T_MS)
    table = csv.DictReader(io.StringIO(sessions_csv(db_session, Search())))
    rows = {row["id"]: row for row in table}
    assert rows[str(ticked)]["conditions.full_charge_before"] == "True"
    assert rows[str(ticked)]["conditions.tyre_kpa"] == "290"
    assert rows[str(denied)]["conditions.full_charge_before"] == "False"
    assert {row["vehicle.pack.measured_kwh"] for row in rows.values()} == {"56.4"}
