"""The API for sessions, over HTTP."""

from __future__ import annotations

import io
import json
import time
import uuid
from typing import Any

import pytest
from bad_files import BAD_FILES
from database_contents import contents
from exchange.documents import ID, T_MS, a_document
from flask import Flask
from flask.testing import FlaskClient

from ebbline.exchange import session_file
from ebbline.exchange.session_file import MAX_ARCHIVE_BYTES
from ebbline.web.db import db

SESSION = f"/api/sessions/{ID}"
EVENT = {"id": "e1", "device": "phone-1", "t_ms": T_MS, "kind": "note", "text": "ok"}
READING = {
    "id": "r1",
    "device": "phone-1",
    "t_ms": T_MS,
    "quantity": "soc",
    "value": 5,
    "unit": "%",
}
FIXES = {
    "device": "phone-1",
    "seq": [0, 1, 4],
    "t_ms": [T_MS, T_MS + 1000, T_MS + 4000],
    "lat": [47.0, 47.0001, 47.0004],
    "lon": [8.0, 8.0, 8.0],
}
CHECK = {"id": "c1", "device": "phone-1", "t_ms": T_MS, "offset_ms": 3, "round_trip_ms": 8}


def rows(app: Flask) -> dict[str, list[tuple[Any, ...]]]:
    with app.app_context():
        return contents(db.engine)


def make(client: FlaskClient, **more: Any) -> dict[str, Any]:
    setup = {"session": {"id": ID, "title": "A run"}, **more}
    answer = client.put(SESSION, json={"base": None, "setup": setup})
    assert answer.status_code == 200
    return setup


def test_the_clock_is_this_machines(client: FlaskClient) -> None:
    before = time.time_ns() // 1_000_000
    server_ms = client.get("/api/time").json["server_ms"]
    assert before <= server_ms <= time.time_ns() // 1_000_000


def test_a_session_is_made_revised_and_seen(client: FlaskClient) -> None:
    setup = make(client)
    changed = {**setup, "vehicle": {"label": "Car A"}, "own": [1.5]}
    answer = client.put(SESSION, json={"base": 1, "setup": changed})
    assert answer.json == {"id": ID, "revision": 2, "setup": changed}
    seen = client.get(SESSION).json
    assert seen == {
        "id": ID,
        "revision": 2,
        "setup": changed,
        "events": [],
        "readings": [],
        "photos": [],
        "clock_checks": [],
        "imported_files": [],
        "fix_count": 0,
        "archived": False,
    }


def test_a_stale_base_gets_409_and_what_is_held(client: FlaskClient) -> None:
    setup = make(client)
    answer = client.put(SESSION, json={"base": None, "setup": {**setup, "mine": True}})
    assert answer.status_code == 409
    assert answer.json["held"] == {"revision": 1, "setup": setup}


def test_an_upload_is_answered_with_what_is_held_and_what_was_refused(client: FlaskClient) -> None:
    make(client)
    upload = {
        "device": "phone-1",
        "events": [EVENT, {**EVENT, "id": "e2", "t_ms": None}],
        "readings": [READING],
        "breadcrumbs": [FIXES],
        "clock_checks": [CHECK],
    }
    for _ in range(2):
        answer = client.post(f"{SESSION}/records", json=upload)
        assert answer.status_code == 200
        assert answer.json["held"] == {
            "events": ["e1"],
            "readings": ["r1"],
            "breadcrumbs": [{"device": "phone-1", "ranges": [[0, 1], [4, 4]]}],
            "clock_checks": ["c1"],
        }
        assert answer.json["refused"] == [
            {
                "kind": "event",
                "id": "e2",
                "where": "events[1].t_ms",
                "problem": "must not be null",
            }
        ]
        assert answer.json["server_ms"] > T_MS
    seen = client.get(SESSION).json
    assert (seen["events"], seen["readings"], seen["clock_checks"], seen["fix_count"]) == (
        [EVENT],
        [READING],
        [CHECK],
        3,
    )


@pytest.mark.parametrize(
    ("events", "says"),
    [
        (b",".join([b"{}"] * 2_001), "events: has 2,001 records"),
        (b",".join([b"{}"] * 1_000_000), r"$: has 1,000,002 objects and lists"),
        (b",".join([b"0"] * 3_000_000), r"$: has 3,000,000 values"),
        (b",".join([b"0"] * 900_000), "events: has 900,000 records"),
    ],
)
def test_millions_of_records_in_one_upload_are_refused_at_once(
    app: Flask, client: FlaskClient, events: bytes, says: str
) -> None:
    make(client)
    before = rows(app)
    sent = b'{"device": "phone-1", "events": [' + events + b"]}"
    begun = time.process_time()
    answer = client.post(f"{SESSION}/records", data=sent, content_type="application/json")
    assert answer.status_code == 413
    assert says in answer.json["message"]
    assert time.process_time() - begun < 3  # a minute and more where they are looked at
    assert rows(app) == before


def test_events_and_readings_come_in_order_of_arrival(client: FlaskClient) -> None:
    """Of two corrections of one record the later one counts: later is what arrived later."""
    make(client)
    for t_ms in (T_MS + 5, T_MS + 1, T_MS + 3):
        records = {
            "events": [{**EVENT, "id": f"e{t_ms}", "t_ms": t_ms}],
            "readings": [{**READING, "id": f"r{t_ms}", "t_ms": t_ms}],
        }
        client.post(f"{SESSION}/records", json={"device": "p", **records})
    seen = client.get(SESSION).json
    for kind in ("events", "readings"):
        assert [record["t_ms"] - T_MS for record in seen[kind]] == [5, 1, 3]


@pytest.mark.parametrize(
    "body",
    [
        b"not json",
        b"",
        b"[]",
        b'{"device": "p", "event": []}',
        b'{"device": "p", "events": {}}',
        b'{"device": 5}',
        b"{}",
        b'{"device": "p", "device": "q"}',
        b'\xff\xfe{"device": "p"}',
        b'{"device": "p", "events": ' + b"[" * 5000 + b"]" * 5000 + b"}",
    ],
)
def test_a_malformed_envelope_is_refused_in_whole(
    app: Flask, client: FlaskClient, body: bytes
) -> None:
    make(client)
    before = rows(app)
    answer = client.post(f"{SESSION}/records", data=body, content_type="application/json")
    assert answer.status_code == 422
    assert answer.json["message"]
    assert rows(app) == before


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_that_json_does_not_have_are_refused(
    app: Flask, client: FlaskClient, number: str
) -> None:
    make(client)
    before = rows(app)
    text = json.dumps({"device": "p", "readings": [{**READING, "own": "HERE"}]})
    answer = client.post(
        f"{SESSION}/records",
        data=text.replace('"HERE"', number),
        content_type="application/json",
    )
    assert answer.status_code == 200
    assert answer.json["held"]["readings"] == []
    assert answer.json["refused"][0]["where"] == "readings[0].own"
    assert rows(app) == before


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("GET", "", None),
        ("GET", "/file", None),
        ("GET", "/gpx", None),
        ("GET", "/csv", None),
        ("GET", "/result", None),
        ("GET", "/curves", None),
        ("GET", "/revisions", None),
        ("POST", "/trial", {"session": {"id": ID}}),
        ("PUT", "/archived", {"archived": True}),
        ("POST", "/records", {"device": "p"}),
        ("PUT", "", {"base": 3, "setup": {"session": {"id": ID}}}),
    ],
)
def test_a_session_that_is_not_there_gets_404(
    app: Flask, client: FlaskClient, method: str, path: str, body: Any
) -> None:
    before = rows(app)
    answer = client.open(f"{SESSION}{path}", method=method, json=body)
    assert answer.status_code == 404
    assert ID in answer.json["message"]
    assert rows(app) == before


def test_a_file_goes_in_and_comes_out(client: FlaskClient) -> None:
    document = a_document()
    content = session_file.dump_document(document)
    first = client.post("/api/sessions/import", data=content, content_type="application/json")
    assert first.status_code == 201
    assert first.json == {"id": ID, "events": 2, "readings": 2, "fixes": 3, "revision": 1}
    again = client.post("/api/sessions/import", data=content, content_type="application/json")
    assert (again.status_code, again.json) == (200, first.json)
    out = client.get(f"{SESSION}/file")
    assert out.json == document
    assert f'filename="{ID}.ebbline.json"' in out.headers["Content-Disposition"]


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_names_the_place_and_changes_nothing(
    app: Flask, client: FlaskClient, name: str
) -> None:
    client.post("/api/sessions/import", json=a_document())
    before = rows(app)
    content, place = BAD_FILES[name]
    answer = client.post("/api/sessions/import", data=content, content_type="application/json")
    assert answer.status_code == 422
    assert answer.json["where"] == place
    assert answer.json["message"].startswith(f"{place}: ")
    assert rows(app) == before


@pytest.mark.parametrize(
    ("media_type", "size_bytes"),
    [
        ("application/json", session_file.MAX_FILE_BYTES + 1),
        ("application/zip", MAX_ARCHIVE_BYTES + 1),
    ],
)
def test_a_file_beyond_the_limit_is_refused_unread(
    app: Flask, client: FlaskClient, media_type: str, size_bytes: int
) -> None:
    before = rows(app)
    answer = client.post(
        "/api/sessions/import",
        content_type=media_type,
        environ_overrides={"wsgi.input": Unreadable(), "CONTENT_LENGTH": str(size_bytes)},
    )
    assert answer.status_code == 413
    assert rows(app) == before


class Unreadable(io.RawIOBase):
    """A body that nobody may read."""

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        raise AssertionError("the body was read although its length is refused")


@pytest.mark.parametrize("text", ["\x00", "a\x00b"])
@pytest.mark.parametrize("key", ["id", "device"])
def test_a_name_that_databases_cannot_hold_is_refused(
    client: FlaskClient, key: str, text: str
) -> None:
    make(client)
    answer = client.post(
        f"{SESSION}/records", json={"device": "p", "events": [{**EVENT, key: text}]}
    )
    assert [refusal["where"] for refusal in answer.json["refused"]] == [f"events[0].{key}"]


def test_a_device_that_databases_cannot_hold_is_refused(client: FlaskClient) -> None:
    make(client)
    answer = client.post(
        f"{SESSION}/records",
        json={"device": "p", "breadcrumbs": [{**FIXES, "device": "a\x00b"}]},
    )
    assert [refusal["where"] for refusal in answer.json["refused"]] == ["breadcrumbs[0].device"]


def test_the_track_comes_out_as_gpx(client: FlaskClient) -> None:
    client.post("/api/sessions/import", json=a_document())
    answer = client.get(f"{SESSION}/gpx")
    assert answer.mimetype == "application/gpx+xml"
    assert answer.text.count("<trkpt") == 3


def test_no_answer_invents_or_loses_digits(client: FlaskClient) -> None:
    setup = make(client, course={"gate": None}, own=[0.1, 1e-300, 12345678901234567, 1e22])
    assert client.get(SESSION).json["setup"] == setup


def test_a_second_session_does_not_disturb_the_first(client: FlaskClient) -> None:
    make(client)
    client.post(f"{SESSION}/records", json={"device": "p", "events": [EVENT]})
    other = str(uuid.uuid4())
    client.put(f"/api/sessions/{other}", json={"base": None, "setup": {"session": {"id": other}}})
    same_id = {**EVENT, "text": "another session's"}
    client.post(f"/api/sessions/{other}/records", json={"device": "p", "events": [same_id]})
    assert client.get(SESSION).json["events"] == [EVENT]
    assert client.get(f"/api/sessions/{other}").json["events"] == [same_id]


def test_a_correction_that_came_second_gets_409_with_both(client: FlaskClient) -> None:
    make(client)
    theirs = {**EVENT, "id": "e2", "corrects": "e1", "reason": "late", "by": "A"}
    yours = {**EVENT, "id": "e3", "corrects": "e1", "reason": "early", "by": "B"}
    for records in ([EVENT], [theirs]):
        upload = {"device": "desk", "sole": True, "events": records}
        assert client.post(f"{SESSION}/records", json=upload).status_code == 200
    refused = client.post(
        f"{SESSION}/records", json={"device": "desk", "sole": True, "events": [yours]}
    )
    assert refused.status_code == 409
    assert refused.json["conflicts"] == [{"id": "e1", "yours": yours, "held": theirs}]
    assert client.get(SESSION).json["events"] == [EVENT, theirs]


@pytest.mark.parametrize("sole", ["yes", "true", 1, []])
def test_sole_is_a_flag_and_nothing_else(client: FlaskClient, sole: object) -> None:
    make(client)
    upload = {"device": "desk", "sole": sole, "events": [EVENT]}
    assert client.post(f"{SESSION}/records", json=upload).status_code == 422


def test_the_list_takes_filters_and_refuses_misspelt_ones(client: FlaskClient) -> None:
    make(client, vehicle={"label": "Car A"})

    def found(query: str) -> list[str]:
        answer = client.get(f"/api/sessions?{query}")
        assert answer.status_code == 200
        return [session["id"] for session in answer.json["sessions"]]

    assert found("vehicle=car+a&archived=no&text=run") == [ID]
    assert found("vehicle=car+b") == []
    assert found("from=2026-01-01") == []  # it has no date
    for query in ("vehicl=car", "from=yesterday", "archived=maybe", "outcome=good"):
        assert client.get(f"/api/sessions?{query}").status_code == 422


def test_a_session_is_put_away_and_taken_out_again(client: FlaskClient) -> None:
    make(client)
    for archived, count in ((True, 0), (False, 1)):
        answer = client.put(f"{SESSION}/archived", json={"archived": archived})
        assert (answer.status_code, answer.json) == (200, {"archived": archived})
        assert client.get(SESSION).json["archived"] is archived
        assert len(client.get("/api/sessions").json["sessions"]) == count
    for wrong in ({}, {"archived": "yes"}, {"archived": None}, {"archive": True}):
        assert client.put(f"{SESSION}/archived", json=wrong).status_code == 422


def test_revisions_are_listed_first_to_last(client: FlaskClient) -> None:
    setup = make(client)
    client.put(SESSION, json={"base": 1, "setup": {**setup, "own": 1}})
    told = client.get(f"{SESSION}/revisions").json["revisions"]
    assert [(r["revision"], r["setup"].get("own")) for r in told] == [(1, None), (2, 1)]
    assert all(r["saved_at"].endswith("+00:00") for r in told)
