"""Looking at files over HTTP before they are taken in, and evidence as a session of its own."""

from __future__ import annotations

import json

import pytest
from database_contents import contents
from exchange.documents import ID, a_document
from exchange.test_csv_reading import PLAIN
from exchange.test_photo_times import ms, photo
from flask import Flask
from flask.testing import FlaskClient
from sessions.test_recordings import CSV, GPX

from ebbline.web.db import db

XML, TABLE = "application/gpx+xml", "text/csv"


@pytest.mark.parametrize(
    ("path", "data", "media_type"),
    [
        ("look", GPX, XML),
        ("look", CSV, TABLE),
        (f"look?mapping={json.dumps(PLAIN)}", CSV, TABLE),
        ("photo-time", photo(), "image/jpeg"),
    ],
)
def test_looking_stores_nothing(
    app: Flask, client: FlaskClient, path: str, data: bytes, media_type: str
):
    client.post("/api/sessions/import", json={**a_document(), "photos": []})
    with app.app_context():
        before = contents(db.engine)
        answer = client.post(f"/api/imports/{path}", data=data, content_type=media_type)
        assert answer.status_code == 200, answer.text
        assert contents(db.engine) == before


def test_a_track_says_what_it_holds(client: FlaskClient):
    look = client.post("/api/imports/look?name=track.gpx", data=GPX, content_type=XML).json
    assert (look["kind"], look["fixes"], look["events"], look["guess"]) == ("gpx", 3, 1, None)
    assert look["from_ms"] < look["to_ms"]


def test_a_log_proposes_and_then_says_what_a_mapping_gives(client: FlaskClient):
    proposed = client.post("/api/imports/look", data=CSV, content_type=TABLE).json
    assert proposed["log_rows"] == 0
    assert {column["column"] for column in proposed["guess"]["columns"]}
    assert proposed["units"]["speed"] == ["m/s", "km/h", "mph"]
    read = client.post(
        "/api/imports/look", query_string={"mapping": json.dumps(PLAIN)}, data=CSV,
        content_type=TABLE,
    ).json  # fmt: skip
    assert (read["log_rows"], read["guess"]) == (2, None)


def test_a_malformed_file_is_refused_with_the_place(client: FlaskClient):
    broken = GPX.replace(b'lat="12', b'lat="x', 1)
    answer = client.post("/api/imports/look", data=broken, content_type=XML)
    assert answer.status_code == 422
    assert answer.json["message"]
    wrong = client.post("/api/imports/look", data=GPX, content_type=TABLE)
    assert "looks like gpx" in wrong.json["message"]
    other = client.post("/api/imports/look", data=b"{}", content_type="application/json")
    assert other.status_code == 415


def test_evidence_makes_a_session_once(client: FlaskClient):
    address = "/api/imports/evidence?name=morning.gpx"
    first = client.post(address, data=GPX, content_type=XML)
    again = client.post(address, data=GPX, content_type=XML)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json["id"] == again.json["id"] != ID
    held = client.get(f"/api/sessions/{first.json['id']}").json
    assert held["setup"]["session"]["title"] == "morning.gpx"
    assert held["fix_count"] == 3


def test_what_can_not_be_read_makes_no_session(client: FlaskClient):
    answer = client.post("/api/imports/evidence?name=log.csv", data=CSV, content_type=TABLE)
    assert answer.status_code == 422
    assert "which column" in answer.json["message"]
    assert client.get("/api/sessions").json["sessions"] == []


def test_a_photos_time_is_a_proposal(client: FlaskClient):
    data = photo(original="2026:03:02 10:49:12")
    answer = client.post(
        "/api/imports/photo-time?zone=Europe/Vienna", data=data, content_type="image/jpeg"
    )
    assert answer.json["proposal"] == {
        "t_ms": ms(2026, 3, 2, 9, 49, 12), "source": "exif", "said": "2026:03:02 10:49:12",
    }  # fmt: skip
    none = client.post("/api/imports/photo-time", data=photo(), content_type="image/jpeg")
    assert none.json == {"proposal": None}
    other = client.post("/api/imports/photo-time", data=b"a,b", content_type=TABLE)
    assert other.status_code == 415
