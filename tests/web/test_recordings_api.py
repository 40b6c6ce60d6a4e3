"""Recording of others over HTTP: what is taken, what is refused, and who may send it."""

from __future__ import annotations

import json
import urllib.parse
import urllib.request
import uuid
from typing import Any

import pytest
from database_contents import contents
from exchange.documents import ID, a_document
from exchange.test_csv_reading import PLAIN, ROWS
from flask import Flask
from flask.testing import FlaskClient
from patience import LONGEST_S
from server_process import LiveServer
from sessions.test_recordings import CSV, GPX

from ebbline.exchange.recording import MAX_RECORDING_BYTES
from ebbline.web.db import db
from ebbline.web.door import MAX_UPLOAD_BYTES

EVIDENCE = f"/api/sessions/{ID}/evidence"
GPX_TYPE, CSV_TYPE = "application/gpx+xml", "text/csv"


@pytest.fixture
def client(client: FlaskClient) -> FlaskClient:
    assert client.post("/api/sessions/import", json=a_document()).status_code == 201
    return client


def post(
    client: FlaskClient, data: bytes, media_type: str, url: str = EVIDENCE, **query: Any
) -> Any:
    return client.post(url, data=data, content_type=media_type, query_string=query)


def held(app: Flask) -> Any:
    with app.app_context():
        return contents(db.engine)


def test_a_track_is_taken_once(client: FlaskClient, app: Flask) -> None:
    first = post(client, GPX, GPX_TYPE, name="track.gpx")
    assert first.status_code == 201
    assert (first.json["fixes"], first.json["events"]) == (3, 1)
    before = held(app)
    again = post(client, GPX, GPX_TYPE, name="track.gpx")
    assert again.status_code == 200
    assert again.json == first.json
    assert held(app) == before


def test_a_log_is_taken_with_its_mapping_and_shows_in_the_result(client: FlaskClient) -> None:
    answer = post(
        client, CSV, f"{CSV_TYPE}; charset=utf-8", mapping=json.dumps(PLAIN), device="logger"
    )
    assert answer.status_code == 201
    assert answer.json["log_rows"] == 2
    assert answer.json["devices"] == ["logger"]
    result = client.get(f"/api/sessions/{ID}/result").json
    assert result["power_log"]["device"] == "logger"
    assert client.get(f"/api/sessions/{ID}/file").json["logs"][0]["device"] == "logger"
    curves = client.get(f"/api/sessions/{ID}/curves").json
    assert len(curves["log_t_ms"]) == len(curves["log_energy_kwh"]["value"])


def test_a_proposal_stores_nothing_and_can_be_given_back(client: FlaskClient, app: Flask) -> None:
    data = (
        b"Zeit;Spannung [V];Strom [A]\n2026-03-02 15:00:00;350,5;20\n2026-03-02 15:00:01;350;-3\n"
    )
    before = held(app)
    answer = post(client, data, CSV_TYPE, f"{EVIDENCE}/guess", zone="Europe/Vienna")
    assert answer.status_code == 200
    assert {column["as"] for column in answer.json["columns"]} == {"time", "voltage", "current"}
    assert held(app) == before
    taken = post(client, data, CSV_TYPE, mapping=json.dumps(answer.json["mapping"]))
    assert taken.status_code == 201


@pytest.mark.parametrize(
    ("data", "media_type", "query", "where"),
    [
        (GPX.replace(b'lat="12.0"', b'lat="91"', 1), GPX_TYPE, {},
         "tracks[0].segments[0].points[0].lat"),
        (b"<!DOCTYPE gpx []><gpx/>", GPX_TYPE, {}, "$"),
        (CSV, GPX_TYPE, {}, "$"),
        (GPX, CSV_TYPE, {"mapping": json.dumps(PLAIN)}, "$"),
        (CSV, CSV_TYPE, {}, "mapping"),
        (CSV, CSV_TYPE, {"mapping": "{"}, "mapping"),
        (CSV, CSV_TYPE, {"mapping": "[]"}, "mapping"),
        (ROWS.replace("350.5", "35O.5").encode(), CSV_TYPE, {"mapping": json.dumps(PLAIN)},
         "line 2, column 'u'"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_refused_with_its_place_and_changes_nothing(
    client: FlaskClient, app: Flask, data: bytes, media_type: str, query: Any, where: str
) -> None:
    before = held(app)
    answer = post(client, data, media_type, **query)
    assert answer.status_code == 422
    assert answer.json["where"] == where
    assert answer.json["message"].startswith(where)
    assert held(app) == before


def test_a_misspelt_parameter_is_refused(client: FlaskClient) -> None:
    assert post(client, GPX, GPX_TYPE, zones="UTC").status_code == 422


@pytest.mark.parametrize("media_type", [GPX_TYPE, CSV_TYPE])
def test_a_hundred_megabytes_are_refused(client: FlaskClient, media_type: str) -> None:
    answer = post(client, b" " * (MAX_RECORDING_BYTES + 1), media_type)
    assert answer.status_code == 413


def test_a_session_that_is_not_there_is_404(client: FlaskClient) -> None:
    nowhere = f"/api/sessions/{uuid.uuid4()}/evidence"
    assert post(client, GPX, GPX_TYPE, nowhere).status_code == 404
    assert post(client, CSV, CSV_TYPE, nowhere, mapping=json.dumps(PLAIN)).status_code == 404
    assert post(client, CSV, CSV_TYPE, f"{nowhere}/guess").status_code == 404


def test_the_same_rows_read_otherwise_are_409(client: FlaskClient) -> None:
    post(client, CSV, CSV_TYPE, mapping=json.dumps(PLAIN))
    other = {**PLAIN, "current": {**PLAIN["current"], "discharge": "negative"}}
    assert post(client, CSV, CSV_TYPE, mapping=json.dumps(other)).status_code == 409


@pytest.mark.parametrize(
    "media_type",
    ["text/plain", "multipart/form-data; boundary=x", "application/x-www-form-urlencoded",
     "application/json", "application/zip", None],
)  # fmt: skip
def test_no_other_type_is_taken_least_of_all_one_that_a_form_can_send(
    client: FlaskClient, media_type: str | None
) -> None:
    for url in (EVIDENCE, f"{EVIDENCE}/guess"):
        assert client.post(url, data=GPX, content_type=media_type).status_code == 415


@pytest.mark.parametrize("media_type", [GPX_TYPE, CSV_TYPE])
def test_the_new_types_open_no_other_door(client: FlaskClient, media_type: str) -> None:
    for method, url in (
        ("POST", f"/api/sessions/{ID}/records"), ("PUT", f"/api/sessions/{ID}"),
        ("POST", "/api/sessions/import"),
    ):  # fmt: skip
        answer = client.open(url, method=method, data=b"{}", content_type=media_type)
        assert answer.status_code in (415, 422)


def test_a_log_larger_than_a_batch_goes_through_the_real_server(live_server: LiveServer) -> None:
    def call(path: str, data: bytes, media_type: str) -> Any:
        request = urllib.request.Request(
            live_server.url + path, method="POST", data=data, headers={"Content-Type": media_type}
        )
        with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
            return answer.status, json.load(answer)

    call("/api/sessions/import", json.dumps(a_document()).encode(), "application/json")
    wide = "x" * 100_000
    rows = "".join(f"2026-03-02T14:{k // 60:02d}:{k % 60:02d}Z,350,20,{wide}\n" for k in range(200))
    data = f"t,u,i,remark\n{rows}".encode()
    assert len(data) > MAX_UPLOAD_BYTES
    query = urllib.parse.urlencode({"mapping": json.dumps(PLAIN), "name": "log.csv"})
    path = f"{EVIDENCE}?{query}"
    first = call(path, data, CSV_TYPE)
    assert (first[0], first[1]["log_rows"]) == (201, 200)
    assert call(path, data, CSV_TYPE) == (200, first[1])
