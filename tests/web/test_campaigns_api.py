"""Campaigns over the wire."""

from __future__ import annotations

from exchange.documents import ID, a_run
from flask.testing import FlaskClient

WINTER = {"name": "Winter", "session_ids": [ID], "zero_basis": "zero_range"}


def test_a_campaign_is_made_changed_listed_and_deleted(client: FlaskClient) -> None:
    assert client.put(
        f"/api/sessions/{ID}", json={"base": None, "setup": {"session": {"id": ID}}}
    ).status_code == 200  # fmt: skip
    made = client.post("/api/campaigns", json=WINTER)
    assert made.status_code == 201
    at = f"/api/campaigns/{made.json['id']}"
    assert {name: made.json[name] for name in WINTER} == WINTER
    change = {"name": "Winter", "session_ids": [], "base": 1,
              "left_out": [{"session_id": ID, "why": "the course was wet"}]}  # fmt: skip
    assert client.put(at, json=change).json["revision"] == 2
    assert client.put(at, json=change).status_code == 409
    (listed,) = client.get("/api/campaigns").json["campaigns"]
    assert listed == client.get(at).json | {"published_at": None, "published_differs": None}
    assert listed["left_out"] == change["left_out"]
    assert client.delete(at).status_code == 200
    assert client.get(at).status_code == 404


def test_a_published_campaign_is_frozen_and_not_deleted(client: FlaskClient) -> None:
    assert client.post("/api/sessions/import", json=a_run()).status_code == 201
    crew = {"name": "Winter", "session_ids": [ID], "tested_by": "Track crew A"}
    made = client.post("/api/campaigns", json=crew)
    assert made.json["tested_by"] == "Track crew A"
    at = f"/api/campaigns/{made.json['id']}"
    recorded = client.post(f"{at}/publications", json={"by": "alex", "note": "the film"})
    assert recorded.status_code == 201
    (listed,) = client.get("/api/campaigns").json["campaigns"]
    assert (listed["published_at"] is not None, listed["published_differs"]) == (True, False)
    assert recorded.json == client.get(f"{at}/publications").json
    (record,) = recorded.json["publications"]
    assert (record["by"], record["note"], record["changed"]) == ("alex", "the film", [])
    assert (
        record["answer"]["statement"]
        == (client.get(f"{at}/comparison").json["reserve_model"]["statement"])
    )
    frozen = client.get(f"/api/publications/{record['id']}")
    assert frozen.json["definition"]["tested_by"] == "Track crew A"
    assert frozen.headers["Content-Disposition"].startswith("attachment")
    paper = client.get(f"{at}/report?units=mi")
    assert paper.headers["Content-Disposition"].endswith('filename="winter-report.pdf"')
    assert paper.data.startswith(b"%PDF-")
    refused = client.delete(at)
    assert refused.status_code == 409
    assert "recorded as published" in refused.json["message"]
    assert client.get(at).status_code == 200
    assert client.get(f"/api/publications/{ID}").status_code == 404


def test_an_empty_campaign_is_not_recorded_as_published(client: FlaskClient) -> None:
    made = client.post("/api/campaigns", json={"name": "Winter", "session_ids": []})
    refused = client.post(f"/api/campaigns/{made.json['id']}/publications", json={})
    assert refused.status_code == 409
    assert "compares no session yet" in refused.json["message"]


def test_a_misspelt_key_and_an_unknown_zero_are_refused(client: FlaskClient) -> None:
    for wrong in ({"sessions": []}, {"zero_basis": "moment"}, {"name": ""}):
        answer = client.post("/api/campaigns", json={**WINTER, **wrong})
        assert answer.status_code == 422, wrong
        assert answer.json["errors"]["json"].keys() == wrong.keys()


def test_a_session_id_that_is_none_is_refused_by_its_place(client: FlaskClient) -> None:
    answer = client.post("/api/campaigns", json={**WINTER, "session_ids": [ID, "none"]})
    assert answer.status_code == 422
    assert answer.json["errors"]["json"]["session_ids"].keys() == {"1"}
