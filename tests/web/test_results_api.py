"""Results and curves over HTTP, for every sample session."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from database_contents import contents
from flask import Flask
from flask.testing import FlaskClient
from lazily import lazily

from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.sessions.results import results
from ebbline.web.app import create_app
from ebbline.web.db import db

schemathesis = lazily("schemathesis")

SAMPLES = sorted((Path(__file__).parents[2] / "sample_sessions").glob("*.ebbline.json"))
REMEMBERED = RecentlyUsed[Any, Any](results.ANALYSES_KEPT)
OTHER = "00000000-0000-4000-8000-000000000001"


def refuse(constant: str) -> None:
    pytest.fail(f"{constant} is not JSON")


def strict(text: str) -> Any:
    return json.loads(text, parse_constant=refuse)


@pytest.fixture(params=SAMPLES, ids=lambda path: path.name)
def sample_id(request: pytest.FixtureRequest, client: FlaskClient) -> str:
    content = request.param.read_bytes()
    answer = client.post("/api/sessions/import", data=content, content_type="application/json")
    assert answer.status_code == 201
    session_id: str = answer.json["id"]
    return session_id


@pytest.fixture(scope="module")
def lasting_samples(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    """Every sample brought in once, for the tests that only ask."""
    folder = tmp_path_factory.mktemp("samples")
    app = create_app(f"sqlite:///{folder / 'x.sqlite3'}", str(folder / "photos"))
    client = app.test_client()
    for path in SAMPLES:
        put = client.post(
            "/api/sessions/import", data=path.read_bytes(), content_type="application/json"
        )
        assert put.status_code == 201
    yield client
    with app.app_context():
        db.engine.dispose()


@pytest.fixture
def samples(lasting_samples: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> FlaskClient:
    """What one test has asked for needn't be worked out for the next."""
    monkeypatch.setattr(results, "_recent", REMEMBERED)
    return lasting_samples


@pytest.fixture(params=SAMPLES, ids=lambda path: path.name)
def held_id(request: pytest.FixtureRequest) -> str:
    """A sample among ``samples``."""
    session_id: str = json.loads(request.param.read_bytes())["session"]["id"]
    return session_id


@pytest.mark.slow
def test_every_answer_about_a_sample_is_as_described(app: Flask, sample_id: str) -> None:
    described = schemathesis.openapi.from_wsgi("/api/openapi.json", app)
    called = set()
    places = {"session_id": sample_id, "other_id": sample_id, "name": "session"}
    for found in described.get_all_operations():
        operation = found.ok()
        if operation.method.upper() != "GET" or operation.path.endswith(("{sha256}", "/join")):
            continue  # the samples have no pictures and no keys
        if "{campaign_id}" in operation.path or "{publication_id}" in operation.path:
            continue  # they belong to none, and nobody has published them
        if "/publish/" in operation.path:
            continue  # long work, looked at in test_publish_api
        query = {"device": "phone-1"} if operation.path.endswith("/crew") else {}
        case = operation.Case(path_parameters=places, query=query)
        # The client inside this process does not unpack what comes packed.
        answer = case.call_and_validate(headers={"Accept-Encoding": "identity"})
        assert answer.status_code == 200
        if "json" in answer.headers["content-type"][0]:
            strict(answer.text)
        called.add(operation.label.rsplit("/", 1)[1])
    assert {"sessions", "file", "gpx", "csv", "result", "curves", "time"} <= called


def test_curves_are_thinned_but_keep_their_ends(samples: FlaskClient, held_id: str) -> None:
    fine = strict(samples.get(f"/api/sessions/{held_id}/curves?max_points=200000").text)
    coarse = strict(samples.get(f"/api/sessions/{held_id}/curves?max_points=50").text)
    assert len(fine["t_ms"]) > 500
    assert len(coarse["t_ms"]) == len(coarse["speed_mps"]["low"]) == 50
    assert coarse["t_ms"][0] == fine["t_ms"][0]
    assert coarse["t_ms"][-1] == fine["t_ms"][-1]
    usual = strict(samples.get(f"/api/sessions/{held_id}/curves").text)
    assert len(usual["t_ms"]) == min(4000, len(fine["t_ms"]))


@pytest.mark.parametrize("query", ["max_points=1", "max_points=x", "points=5"])
def test_a_wrong_question_about_curves_is_refused(samples: FlaskClient, query: str) -> None:
    session_id = json.loads(SAMPLES[0].read_bytes())["session"]["id"]
    answer = samples.get(f"/api/sessions/{session_id}/curves?{query}")
    assert answer.status_code == 422
    assert answer.json["message"].startswith(query.split("=")[0])


def test_the_table_has_a_row_for_every_point(samples: FlaskClient, held_id: str) -> None:
    curves = strict(samples.get(f"/api/sessions/{held_id}/curves?max_points=200000").text)
    rows = list(csv.DictReader(io.StringIO(samples.get(f"/api/sessions/{held_id}/csv").text)))
    bases = (
        "t_ms",
        "recharge_t_ms",
        "fade_energy_kwh",
        "shown_t_ms",
        "counted_t_ms",
        "available_t_ms",
    )
    assert len(rows) == sum(len(curves[base]) for base in bases)
    assert int(rows[0]["t_ms"]) == curves["t_ms"][0]


def test_the_list_agrees_with_the_result(samples: FlaskClient, held_id: str) -> None:
    result = strict(samples.get(f"/api/sessions/{held_id}/result").text)
    lines = strict(samples.get("/api/sessions").text)["sessions"]
    (line,) = [one for one in lines if one["id"] == held_id]
    assert result["session_id"] == held_id
    assert line["figures"]["reserve_distance_m"] == result["reserve"]["distance_m"]
    assert line["figures"]["reserve_energy_kwh"] == result["reserve"]["energy_kwh"]
    assert (line["outcome"] == "past zero") == (line["figures"]["reserve_distance_m"] is not None)


def test_a_trial_of_its_own_setup_gives_its_own_result(samples: FlaskClient, held_id: str) -> None:
    setup = samples.get(f"/api/sessions/{held_id}").json["setup"]
    tried = samples.post(f"/api/sessions/{held_id}/trial", json=setup)
    assert tried.status_code == 200
    assert strict(tried.text)["result"] == strict(
        samples.get(f"/api/sessions/{held_id}/result").text
    )


def test_a_trial_says_what_another_setup_would_mean_and_stores_nothing(
    app: Flask, client: FlaskClient
) -> None:
    content = (SAMPLES[0].parent / "full-run.ebbline.json").read_bytes()
    made = client.post("/api/sessions/import", data=content, content_type="application/json")
    session = f"/api/sessions/{made.json['id']}"
    setup = client.get(session).json["setup"]
    result = strict(client.get(f"{session}/result").text)
    with app.app_context():
        before = contents(db.engine)
    slow = {"mean": 3.0, "sd": 0.4}
    changed = {**setup, "protocol": {**setup["protocol"], "tap_delay_s": slow}}
    tried = strict(client.post(f"{session}/trial", json=changed).text)["result"]
    own, later = (
        next(event["at_ms"]["value"] for event in found["timeline"] if event["kind"] == "zero_soc")
        for found in (result, tried)
    )
    assert (own - later) / 1000 == pytest.approx(
        slow["mean"] - setup["protocol"]["tap_delay_s"]["mean"], abs=0.002
    )
    assert tried["input_sha256"] != result["input_sha256"]
    for wrong in ({}, [], {**setup, "session": {"id": OTHER}}, {**setup, "events": []}):
        assert client.post(f"{session}/trial", json=wrong).status_code == 422
    assert (
        client.post(f"{session}/trial", data=b"{", content_type="application/json").status_code
        == 422
    )
    with app.app_context():
        assert contents(db.engine) == before
