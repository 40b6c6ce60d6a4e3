"""A campaign leaves the desk as a data package."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from campaigns.test_package import SAMPLES, compare, errors, unpacked
from flask.testing import FlaskClient

pytestmark = pytest.mark.slow


def test_a_campaign_of_the_desk_leaves_as_a_package(client: FlaskClient, tmp_path: Path) -> None:
    ids = []
    for sample in SAMPLES[:2]:
        taken = client.post("/api/sessions/import", data=sample.read_bytes(),
                            content_type="application/json")  # fmt: skip
        ids.append(taken.json["id"])
    worked_out, behind = ids
    assert client.get(f"/api/sessions/{worked_out}/result").status_code == 200
    made = client.post("/api/campaigns", json={
        "name": "Winter", "session_ids": [worked_out], "tested_by": "Track crew A",
        "left_out": [{"session_id": behind, "why": "the course was wet"}],
    })  # fmt: skip
    at = f"/api/campaigns/{made.json['id']}"
    answer = client.get(f"{at}/package?licence=CC0-1.0&contributor=A&with_sessions=true")
    assert answer.status_code == 200
    assert answer.content_type == "application/zip"
    (tmp_path / "out.zip").write_bytes(answer.data)
    folder = unpacked(tmp_path / "out.zip", tmp_path / "open")
    assert errors(folder) == []
    described = json.loads((folder / "datapackage.json").read_text())
    assert [one["title"] for one in described["contributors"]] == ["Track crew A", "A"]
    comparison = client.get(f"{at}/comparison").json
    packed = json.loads((folder / "comparison.json").read_text())
    assert packed == {key: part for key, part in comparison.items() if key != "behind"}
    again = json.loads(compare(*(folder / "sessions").iterdir(), "--json"))
    assert again["sessions"] == packed["sessions"]
    (out,) = packed["left_out"]
    assert (out["session_id"], out["why"]) == (behind, "the course was wet")
    assert len(list((folder / "left-out-sessions").iterdir())) == 1
    assert client.get(f"{at}/package?licence=as+you+like").status_code == 422


def test_the_schemas_are_served(client: FlaskClient) -> None:
    for name in ("session", "result", "comparison"):
        answer = client.get(f"/api/schemas/{name}")
        assert answer.content_type == "application/schema+json"
        assert answer.json["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert client.get("/api/schemas/other").status_code == 404
