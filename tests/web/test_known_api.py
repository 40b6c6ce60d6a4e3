"""What earlier sessions know of cars and warnings, to be proposed in the next."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from exchange.documents import T_MS
from flask.testing import FlaskClient


def session(number: int) -> str:
    return str(UUID(int=number, version=4))


def put(client: FlaskClient, number: int, base: int | None = None, **parts: Any) -> None:
    setup = {"session": {"id": session(number)}, **parts}
    done = client.put(f"/api/sessions/{session(number)}", json={"base": base, "setup": setup})
    assert done.status_code == 200, done.text


def warn(client: FlaskClient, number: int, name: str, text: str, chosen: str | None,
         **more: Any) -> None:  # fmt: skip
    event = {"id": name, "device": "p", "t_ms": T_MS, "kind": "warning", "text": text,
             "class": chosen, **more}  # fmt: skip
    done = client.post(f"/api/sessions/{session(number)}/records",
                       json={"device": "p", "events": [event]})  # fmt: skip
    assert done.json["held"]["events"] == [name], done.text


def test_a_car_is_as_its_latest_session_has_it_but_for_what_is_new_each_time(client: FlaskClient):
    assert client.get("/api/known").json == {"cars": [], "warnings": []}
    put(client, 1, vehicle={"label": "Car A", "pack": {"usable_kwh": 58, "chemistry": "NMC"}})
    put(
        client,
        2,
        vehicle={"label": " Car A ", "software": "4.2", "odometer_km": 9, "lender": "its owner",
                 "pack": {"usable_kwh": 57}},
        conditions={"drive_mode": "usual", "climate": "off", "tyre_kpa": 290},
    )  # fmt: skip
    put(client, 3, vehicle={"label": "Car B"})
    put(client, 4, vehicle={"label": "Car A"})  # nothing of it: the one before stays proposed
    put(client, 5)
    cars = client.get("/api/known").json["cars"]
    assert {car["label"] for car in cars} == {"Car A", "Car B"}
    facts = {car["label"]: car["facts"] for car in cars}
    assert facts == {
        "Car A": {
            "vehicle.pack.usable_kwh": 57,
            "vehicle.lender": "its owner",
            "conditions.drive_mode": "usual",
        },
        "Car B": {},
    }


def test_the_same_words_are_classed_as_they_last_were(client: FlaskClient):
    put(client, 1)
    put(client, 2)
    warn(client, 1, "a", "Pull over  safely", "stop_soon")
    warn(client, 1, "b", "Charge", None)
    warn(client, 2, "c", "pull over safely", "stop_now")
    warn(client, 2, "d", "Charge", "charge_soon")
    warn(client, 2, "e", "Charge", "charge_now", corrects="d")
    found = client.get("/api/known").json["warnings"]
    assert {row["text"].casefold(): row["class"] for row in found} == {
        "pull over safely": "stop_now",
        "charge": "charge_now",
    }
    assert len(found) == 2
