"""The list over the wire: what is asked for by an address, and what is refused."""

from __future__ import annotations

import csv
import io

import pytest
from exchange.documents import ID, a_document
from flask.testing import FlaskClient


@pytest.fixture
def client(client: FlaskClient) -> FlaskClient:
    """With one session that was worked out and one that has not begun."""
    assert client.post("/api/sessions/import", json=a_document()).status_code == 201
    other = "00000000-0000-4000-8000-000000000001"
    setup = {"session": {"id": other, "title": "Next"}, "vehicle": {"label": "Blue car"}}
    assert client.put(
        f"/api/sessions/{other}", json={"base": None, "setup": setup}
    ).status_code == 200  # fmt: skip
    return client


def test_a_list_is_sorted_paged_and_says_what_is_behind(client: FlaskClient) -> None:
    told = client.get("/api/sessions").json
    assert (told["total"], told["behind"]) == (2, 1)
    assert [line["worked_out"] for line in told["sessions"]] == [False, True]
    one = client.get("/api/sessions?sort=events&order=desc&limit=1&offset=1").json
    assert [line["title"] for line in one["sessions"]] == ["Next"]
    assert one["total"] == 2
    labels = client.get("/api/sessions/labels").json
    assert "Blue car" in labels["vehicles"]
    assert client.post("/api/sessions/renewals", json={}).json == {"done": 1, "left": 0}
    assert client.get("/api/sessions").json["behind"] == 0


def test_a_campaigns_sessions_are_listed_and_taken_out_as_a_table(client: FlaskClient) -> None:
    made = client.post("/api/campaigns", json={"name": "Winter", "session_ids": [ID]}).json
    (line,) = client.get(f"/api/sessions?campaign={made['id']}").json["sessions"]
    assert line["id"] == ID
    for wanted in ({"campaign": made["id"]}, {"session_ids": [ID]}):
        answer = client.post("/api/sessions/table", json=wanted)
        assert answer.content_type == "text/csv; charset=utf-8"
        (row,) = csv.DictReader(io.StringIO(answer.text))
        assert row["id"] == ID
    assert client.get(f"/api/sessions?campaign={ID}").status_code == 404


@pytest.mark.parametrize("query", ["sort=colour", "order=up", "limit=0", "limit=9999", "offset=-1"])
def test_what_no_list_has_is_refused(client: FlaskClient, query: str) -> None:
    assert client.get(f"/api/sessions?{query}").status_code == 422


def test_what_is_published_is_recorded_by_who_says_so(client: FlaskClient) -> None:
    at = f"/api/sessions/{ID}/publications"
    made = client.post(at, json={"by": "alex", "note": "the film"})
    assert made.status_code == 201
    assert made.json == client.get(at).json
    (record,) = made.json["publications"]
    assert (record["by"], record["note"], record["changed"]) == ("alex", "the film", [])
    listed = {
        line["id"]: line["published_at"] for line in client.get("/api/sessions").json["sessions"]
    }
    assert listed[ID] == record["published_at"]
    assert client.get("/api/sessions?published=yes").json["total"] == 1
    nobodys = "/api/sessions/00000000-0000-4000-8000-000000000009/publications"
    assert client.post(nobodys, json={}).status_code == 404
