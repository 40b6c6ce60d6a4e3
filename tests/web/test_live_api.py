"""Following a run: quick, provisional, and never at odds with what is found out later."""

from __future__ import annotations

import itertools
import json
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from exchange.documents import ID, T_MS
from flask.testing import FlaskClient
from rules.cases import ZERO, protocol
from rules.cases import event as rules_event

from ebbline.records.setup import USUAL_TAP_DELAY
from ebbline.sessions.live import status
from ebbline.sessions.live.tracks import LiveTracks

SESSION = f"/api/sessions/{ID}"
FULL_RUN = Path(__file__).parents[2] / "sample_sessions" / "full-run.ebbline.json"


@pytest.fixture(autouse=True)
def forgetful_tracks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every test starts as a new process would."""
    monkeypatch.setattr(status, "_tracks", LiveTracks())


def make(client: FlaskClient, **setup: Any) -> None:
    body = {"base": None, "setup": {"session": {"id": ID}, **setup}}
    assert client.put(SESSION, json=body).status_code == 200


def send(client: FlaskClient, **records: Any) -> None:
    answer = client.post(f"{SESSION}/records", json={"device": "phone-1", **records})
    assert answer.json["refused"] == []


def fixes(*seqs: int, device: str = "phone-1") -> list[dict[str, Any]]:
    """At 20 m/s northwards, one a second."""
    return [
        {
            "device": device,
            "seq": list(seqs),
            "t_ms": [T_MS + 1000 * seq for seq in seqs],
            "lat": [12.0 + seq * 20 / 111_000 for seq in seqs],
            "lon": [-38.0 for _ in seqs],
            "speed_mps": [20.0 for _ in seqs],
            "accuracy_m": [None for _ in seqs],
        }
    ]


def event(kind: str, seconds: float, **more: Any) -> dict[str, Any]:
    t_ms = T_MS + round(1000 * seconds)
    return {"id": f"{kind}-{seconds}", "device": "phone-1", "t_ms": t_ms, "kind": kind, **more}


def told(client: FlaskClient) -> dict[str, Any]:
    answer = client.get(f"{SESSION}/live")
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json
    return found


def test_an_empty_session_says_that_nothing_is_known(client: FlaskClient) -> None:
    make(client, course={"label": "Course One"}, vehicle={"label": "Car A"})
    found = told(client)
    assert {key: found[key] for key in found if key not in ("server_ms", "cursor")} == {
        "position": None,
        "trail": [],
        "last_event": None,
        "alerts": [],
        "zero": None,
        "past_zero_m": None,
        "energy_past_zero_kwh": None,
        "provisional": True,
        "course": {"label": "Course One"},
        "vehicle_label": "Car A",
    }


def test_a_run_is_followed_batch_by_batch(client: FlaskClient) -> None:
    make(client, protocol={"tap_delay_s": {"mean": 1.0, "sd": 0.4}})
    send(client, breadcrumbs=fixes(*range(50)))
    assert told(client)["past_zero_m"] is None
    send(client, events=[event("zero_soc", 41)], breadcrumbs=fixes(*range(50, 60)))
    found = told(client)
    assert found["last_event"] == event("zero_soc", 41)
    assert found["past_zero_m"]["value"] == pytest.approx((59 - 40) * 20)
    send(client, breadcrumbs=fixes(*range(60, 101)))
    found = told(client)
    assert found["past_zero_m"]["value"] == pytest.approx((100 - 40) * 20)
    assert found["position"] == {
        "lat": 12.0 + 2000 / 111_000,
        "lon": -38.0,
        "accuracy_m": None,
        "speed_mps": 20.0,
        "t_ms": T_MS + 100_000,
    }
    assert found["alerts"] == []
    send(client, events=[event("propulsion_off", 99), event("contactors_open", 99.5)])
    assert [(alert["kind"], alert["t_ms"] - T_MS) for alert in told(client)["alerts"]] == [
        ("propulsion_off", 99_000),
        ("contactors_open", 99_500),
    ]


def test_batches_in_any_order_come_to_the_same(client: FlaskClient) -> None:
    make(client)
    send(client, events=[event("zero_soc", 10)])
    for part in (range(60, 80), range(20), range(40, 60), range(20, 40)):
        send(client, breadcrumbs=fixes(*part))
        told(client)
    found = told(client)
    assert found["past_zero_m"]["value"] == pytest.approx((79 - 10 + USUAL_TAP_DELAY.mean_s) * 20)
    assert len(found["trail"]) == 80
    assert found["trail"] == sorted(found["trail"])


def test_a_withdrawn_tap_is_no_alert_and_not_the_last_event(client: FlaskClient) -> None:
    make(client)
    send(client, events=[event("warning", 1, text="low"), event("propulsion_off", 2)])
    assert len(told(client)["alerts"]) == 1
    undo = event("note", 2.1, corrects="propulsion_off-2", withdraws=True)
    send(client, events=[undo])
    found = told(client)
    assert found["alerts"] == []
    assert found["last_event"] == event("warning", 1, text="low")


def test_a_phones_own_notes_are_not_the_last_event(client: FlaskClient) -> None:
    make(client)
    send(client, events=[event("note", 1, log="checklist", text="Checklist: chase vehicle")])
    assert told(client)["last_event"] is None
    gap = event("note", 3, log="gps_gap", text="No GPS for 36 s: no signal")
    send(client, events=[event("warning", 2, text="low"), gap])
    assert told(client)["last_event"] == event("warning", 2, text="low")
    written = event("note", 4, text="rattles")
    send(client, events=[written])
    assert told(client)["last_event"] == written


def test_energy_is_told_from_the_displays_readings(client: FlaskClient) -> None:
    make(client)

    def shown(seconds: int, value: float) -> dict[str, Any]:
        return {
            "id": f"r{seconds}",
            "device": "phone-1",
            "t_ms": T_MS + 1000 * seconds,
            "quantity": "trip_energy",
            "value": value,
            "unit": "kWh",
            "resolution": 0.1,
        }

    zero = event("zero_soc", 100 + USUAL_TAP_DELAY.mean_s)
    send(client, events=[zero], readings=[shown(0, 4.0), shown(200, 5.0)])
    found = told(client)["energy_past_zero_kwh"]
    assert found["value"] == pytest.approx(0.5)
    send(client, readings=[shown(300, 5.6)])
    assert told(client)["energy_past_zero_kwh"]["value"] == pytest.approx(1.1)
    reset = event("trip_reset", 250)
    send(client, events=[reset])  # what is shown behind it counts from somewhere else
    assert told(client)["energy_past_zero_kwh"]["value"] == pytest.approx(0.5)


def test_the_zero_is_the_one_that_the_protocol_says(client: FlaskClient) -> None:
    make(client, protocol={"zero_basis": "zero_range"})
    late_s = USUAL_TAP_DELAY.mean_s
    send(client, events=[event("zero_soc", 10 + late_s)], breadcrumbs=fixes(*range(80)))
    found = told(client)  # not tapped yet: what there is serves, as in the result
    assert found["zero"] == {"basis": "zero_soc", "t_ms": T_MS + 10_000}
    assert found["past_zero_m"]["value"] == pytest.approx((79 - 10) * 20)
    send(client, events=[event("zero_range", 30 + late_s)])
    found = told(client)
    assert found["zero"] == {"basis": "zero_range", "t_ms": T_MS + 30_000}
    assert found["past_zero_m"]["value"] == pytest.approx((79 - 30) * 20)


def test_who_follows_and_who_reads_the_result_count_from_the_same_zero(client: FlaskClient) -> None:
    told_of = {}
    for case in ZERO:
        session_id = str(uuid.uuid4())
        path = f"/api/sessions/{session_id}"
        setup = {"session": {"id": session_id}, "protocol": protocol(case, T_MS)}
        assert client.put(path, json={"base": None, "setup": setup}).status_code == 200
        upload = {"device": "p", "events": [rules_event(one, T_MS) for one in case["events"]]}
        assert client.post(f"{path}/records", json=upload).json["refused"] == []
        zero = client.get(f"{path}/result").json["zero"]
        told_of[case["name"]] = (
            client.get(f"{path}/live").json["zero"],
            None if zero["basis"] is None else {key: zero[key] for key in ("basis", "t_ms")},
        )
    expected = {
        case["name"]: case["zero"] and {**case["zero"], "t_ms": T_MS + case["zero"]["t_ms"]}
        for case in ZERO
    }
    assert told_of == {name: (zero, zero) for name, zero in expected.items()}


def test_nothing_new_is_told_in_no_words(client: FlaskClient) -> None:
    make(client)
    first = client.get(f"{SESSION}/live")
    again = client.get(f"{SESSION}/live", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    send(client, events=[event("note", 1)])
    fresh = client.get(f"{SESSION}/live", headers={"If-None-Match": first.headers["ETag"]})
    assert fresh.status_code == 200
    assert fresh.json["cursor"] > first.json["cursor"]


def test_a_long_trail_is_thinned_and_keeps_its_newest_point(client: FlaskClient) -> None:
    make(client)
    send(client, breadcrumbs=fixes(*range(3000)))
    found = told(client)
    assert len(found["trail"]) == 500
    assert found["trail"][-1] == [found["position"]["lat"], found["position"]["lon"]]
    assert found["trail"][0][0] == pytest.approx(12.0 + 2099 * 20 / 111_000)  # 15 minutes back


def test_the_phone_with_most_fixes_is_followed(client: FlaskClient) -> None:
    make(client)
    send(client, breadcrumbs=fixes(0, 1, 2, device="phone-2") + fixes(*range(20)))
    assert told(client)["position"]["t_ms"] == T_MS + 19_000


def test_a_session_that_is_not_there_cannot_be_followed(client: FlaskClient) -> None:
    assert client.get(f"{SESSION}/live").status_code == 404


def replayed(client: FlaskClient) -> Iterator[dict[str, Any]]:
    """The sample session as its phone would have sent it, minute by minute."""
    document = json.loads(FULL_RUN.read_bytes())
    run = ("format", "version", "breadcrumbs", "events", "readings", "photos")
    setup = {key: part for key, part in document.items() if key not in run}
    session = f"/api/sessions/{setup['session']['id']}"
    client.put(session, json={"base": None, "setup": setup})
    (entry,) = document["breadcrumbs"]
    columns = [key for key, value in entry.items() if isinstance(value, list)]
    edges = [*range(0, len(entry["seq"]), 300), len(entry["seq"])]
    for first, last in itertools.pairwise(edges):
        part = {k: v[first:last] if k in columns else v for k, v in entry.items()}
        until_ms = entry["t_ms"][last - 1] if last < len(entry["seq"]) else 2**62
        upload = {
            "device": entry["device"],
            "breadcrumbs": [part],
            "events": [e for e in document["events"] if e["t_ms"] <= until_ms],
            "readings": [r for r in document["readings"] if r["t_ms"] <= until_ms],
        }
        assert client.post(f"{session}/records", json=upload).json["refused"] == []
        yield client.get(f"{session}/live").json


def test_a_whole_run_ends_where_the_result_says_within_its_doubt(client: FlaskClient) -> None:
    steps = list(replayed(client))
    past = [step["past_zero_m"]["value"] for step in steps if step["past_zero_m"]]
    assert len(past) > 3
    assert past == sorted(past)
    session_id = json.loads(FULL_RUN.read_bytes())["session"]["id"]
    result = client.get(f"/api/sessions/{session_id}/result").json
    last = steps[-1]["past_zero_m"]
    standstill = next(
        row["past_zero_m"] for row in result["timeline"] if row["kind"] == "standstill"
    )
    assert last["low"] <= standstill["value"] <= last["high"]
    assert (last["high"] - last["low"]) / last["value"] < 0.05
    energy = steps[-1]["energy_past_zero_kwh"]
    assert energy["low"] <= result["reserve"]["energy_kwh"]["value"] <= energy["high"]
