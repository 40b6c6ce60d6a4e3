"""What one phone is told of the others that record in its session."""

from __future__ import annotations

from typing import Any

import pytest
from exchange.documents import ID, T_MS
from flask.testing import FlaskClient

SESSION = f"/api/sessions/{ID}"


@pytest.fixture(autouse=True)
def session(client: FlaskClient) -> None:
    devices = [{"id": "phone-1", "label": "Front seat"}, {"id": "phone-2"}]
    body = {"base": None, "setup": {"session": {"id": ID}, "devices": devices}}
    assert client.put(SESSION, json=body).status_code == 200


def event(id_: str, device: str, kind: str = "note", **more: Any) -> dict[str, Any]:
    return {"id": id_, "device": device, "t_ms": T_MS, "kind": kind, **more}


def reading(id_: str, device: str) -> dict[str, Any]:
    return {"id": id_, "device": device, "t_ms": T_MS, "quantity": "soc", "value": 3, "unit": "%"}


def send(client: FlaskClient, device: str, **records: Any) -> None:
    answer = client.post(f"{SESSION}/records", json={"device": device, **records})
    assert answer.json["refused"] == []


def crew(client: FlaskClient, device: str, since: str | None = None) -> Any:
    asked = {"device": device, **({"since": since} if since else {})}
    answer = client.get(f"{SESSION}/crew", query_string=asked)
    assert answer.status_code == 200
    return answer.json


def ids(told: dict[str, Any]) -> list[str]:
    return [one["id"] for one in (*told["events"], *told["readings"])]


def test_each_phone_is_told_what_the_others_recorded_as_it_came(client: FlaskClient) -> None:
    strange = event("e1", "phone-1", "zero_soc", page="p", never_heard_of=[1])
    send(client, "phone-1", events=[strange], readings=[reading("r1", "phone-1")])
    send(client, "phone-2", events=[event("e2", "phone-2")])
    send(client, "desk", events=[event("e3", "desk", corrects="e2")])
    assert ids(crew(client, "phone-1")) == ["e2", "e3"]
    assert ids(crew(client, "phone-2")) == ["e1", "e3", "r1"]
    assert crew(client, "phone-2")["events"][0] == strange


def test_nothing_is_told_twice(client: FlaskClient) -> None:
    send(client, "phone-1", events=[event("e1", "phone-1")], readings=[reading("r1", "phone-1")])
    first = crew(client, "phone-2")
    assert first["since"] == "0.0"
    again = crew(client, "phone-2", first["until"])
    assert (ids(again), again["since"], again["until"]) == ([], first["until"], first["until"])
    send(client, "phone-2", events=[event("own", "phone-2")])
    send(client, "phone-1", readings=[reading("r2", "phone-1")])
    later = crew(client, "phone-2", again["until"])
    assert ids(later) == ["r2"]
    assert ids(crew(client, "phone-2", later["until"])) == []


def test_who_was_told_more_than_is_held_is_told_all_anew(client: FlaskClient) -> None:
    """An older copy of the server's data was put back."""
    send(client, "phone-1", events=[event("e1", "phone-1")])
    told = crew(client, "phone-2", "7.0")
    assert (told["since"], told["until"], ids(told)) == ("0.0", "1.0", ["e1"])


def test_what_a_phone_notes_of_itself_is_not_told(client: FlaskClient) -> None:
    send(client, "phone-1", events=[event("gap", "phone-1", log="gps_gap"), event("e1", "phone-1")])
    assert ids(crew(client, "phone-2")) == ["e1"]


def test_each_recorders_name_and_clock_are_told(client: FlaskClient) -> None:
    checks = [
        {
            "id": f"c{i}",
            "device": "phone-2",
            "t_ms": T_MS,
            "offset_ms": offset,
            "round_trip_ms": trip,
        }
        for i, (offset, trip) in enumerate([(900, 400), (250, 20)])
    ]
    send(client, "phone-2", clock_checks=checks)
    assert crew(client, "phone-1")["devices"] == [
        {"id": "phone-1", "label": "Front seat", "clock_offset_ms": None},
        {"id": "phone-2", "label": None, "clock_offset_ms": 250},
    ]


@pytest.mark.parametrize("since", ["", "1", "-1.0", "1.0.0", "a.b"])
def test_a_place_that_is_none_is_refused(client: FlaskClient, since: str) -> None:
    asked = {"device": "phone-1", "since": since}
    answer = client.get(f"{SESSION}/crew", query_string=asked)
    assert answer.status_code == 422
    assert "since" in answer.text


def test_no_session_no_crew(client: FlaskClient) -> None:
    other = "/api/sessions/00000000-0000-4000-8000-000000000001/crew?device=p"
    assert client.get(other).status_code == 404
