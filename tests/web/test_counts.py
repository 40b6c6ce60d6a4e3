"""An answer to an upload says how much is held of the sender, so that a phone notices a loss."""

from __future__ import annotations

from exchange.documents import ID, T_MS
from flask.testing import FlaskClient

SESSION = f"/api/sessions/{ID}"


def event(name: str, device: str) -> dict[str, object]:
    return {"id": name, "device": device, "t_ms": T_MS, "kind": "note"}


def fixes(device: str, *seqs: int) -> dict[str, object]:
    moments = [T_MS + 1000 * seq for seq in seqs]
    places = [47.0 + seq / 1e4 for seq in seqs]
    return {"device": device, "seq": seqs, "t_ms": moments, "lat": places, "lon": places}


def upload(client: FlaskClient, device: str, **records: object) -> dict[str, int]:
    answer = client.post(f"{SESSION}/records", json={"device": device, **records})
    assert answer.status_code == 200
    holds: dict[str, int] = answer.json["holds"]
    return holds


def test_an_upload_is_told_what_is_held_of_its_sender_and_of_nobody_else(
    client: FlaskClient,
) -> None:
    setup = {"session": {"id": ID, "title": "A run"}}
    client.put(SESSION, json={"base": None, "setup": setup})
    upload(client, "phone-2", events=[event("b", "phone-2")], breadcrumbs=[fixes("phone-2", 0)])
    first = upload(
        client,
        "phone-1",
        events=[event("a", "phone-1")],
        breadcrumbs=[fixes("phone-1", 0, 1, 4), fixes("phone-1", 5, 6)],
    )
    assert first == {
        "events": 1,
        "readings": 0,
        "clock_checks": 0,
        "fixes": 5,
        "photos": 0,
        "revision": 1,
    }
    assert upload(client, "phone-1", events=[event("a", "phone-1")]) == first
    assert upload(client, "phone-1") == first
    assert upload(client, "phone-3")["events"] == 0
