"""What goes wrong on our side is said so, and takes nothing else with it."""

from __future__ import annotations

import errno
import io
import logging
import os
import sqlite3
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from exchange.documents import ID, T_MS, a_document
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image
from sqlalchemy import Connection, Engine, event

from ebbline import store
from ebbline.records.curves import Analysis
from ebbline.records.evidence import Session
from ebbline.sessions.results import analysis
from ebbline.store import engine
from ebbline.web.api import listing
from ebbline.web.app import create_app
from ebbline.web.db import db

EVENT = {"id": "new", "device": "phone-1", "t_ms": T_MS, "kind": "note"}


@pytest.fixture
def app(own_app: Flask) -> Flask:
    return own_app  # what has failed is remembered with the database


def test_a_mistake_of_ours_is_a_500_that_tells_nothing(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_db_session: object) -> None:
        raise RuntimeError("the inside of the server")

    monkeypatch.setattr(listing, "list_sessions", fail)
    answer = client.get("/api/sessions")
    assert answer.status_code == 500
    assert answer.json["code"] == 500
    assert "inside" not in answer.text
    assert client.get("/api/time").status_code == 200


@pytest.mark.parametrize("error", [ValueError("singular"), ZeroDivisionError(), IndexError(3)])
def test_a_session_that_cannot_be_analysed_does_not_take_the_list_with_it(
    client: FlaskClient,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    error: Exception,
) -> None:
    good = {**a_document(), "session": {"id": str(uuid.uuid4()), "title": "good"}}
    real = analysis.analyze

    def sometimes(session: Session) -> Analysis:
        if session.id == ID:
            raise error
        return real(session)

    monkeypatch.setattr(analysis, "analyze", sometimes)
    for document in (a_document(), good):
        assert client.post("/api/sessions/import", json=document).status_code == 201
    with caplog.at_level(logging.WARNING):
        listed = client.get("/api/sessions").json["sessions"]
        answer = client.get(f"/api/sessions/{ID}/result")
    assert {line["id"] for line in listed} == {ID, good["session"]["id"]}
    failures = {line["id"]: (line["worked_out"], line["failure"]) for line in listed}
    assert failures == {ID: (True, answer.json["message"]), good["session"]["id"]: (True, None)}
    assert answer.status_code == 422
    assert type(error).__name__ in answer.json["message"]
    assert "Traceback" in caplog.text  # for whoever keeps the server
    assert client.get(f"/api/sessions/{ID}/file").json == a_document()


def test_what_failed_is_tried_again_only_when_something_was_added(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = []

    def fail(session: Session) -> Analysis:
        tried.append(session.id)
        raise ValueError("singular")

    monkeypatch.setattr(analysis, "analyze", fail)
    assert client.post("/api/sessions/import", json=a_document()).status_code == 201
    for _ in range(2):
        (line,) = client.get("/api/sessions").json["sessions"]
        assert "singular" in line["failure"]
    assert tried == [ID], "a list that tries it anew never comes to the sessions behind it"
    client.post(f"/api/sessions/{ID}/records", json={"device": "phone-1", "events": [EVENT]})
    for _ in range(2):
        assert client.post("/api/sessions/renewals", json={}).json["left"] == 0
    assert tried == [ID, ID]


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch, sqlite_url: str, tmp_path: Path) -> Iterator[Flask]:
    """The application with little patience for another writer."""
    monkeypatch.setattr(engine, "BUSY_TIMEOUT_S", 0.2)
    monkeypatch.setattr(store, "BUSY_WHILE_SERVING_S", 0.2)
    app = create_app(sqlite_url, str(tmp_path / "photos"))
    yield app
    with app.app_context():
        db.engine.dispose()


def test_a_database_that_is_busy_too_long_is_503_and_later_all_is_well(
    impatient: Flask, sqlite_url: str, caplog: pytest.LogCaptureFixture
) -> None:
    client = impatient.test_client()
    assert client.post("/api/sessions/import", json=a_document()).status_code == 201
    batch: Any = {"device": "phone-1", "events": [EVENT]}
    other = sqlite3.connect(sqlite_url.removeprefix("sqlite:///"), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    answer = client.post(f"/api/sessions/{ID}/records", json=batch)
    assert answer.status_code == 503
    assert answer.json["code"] == 503
    assert answer.headers["Retry-After"] == "5"
    assert "Traceback" not in caplog.text
    assert client.get(f"/api/sessions/{ID}").json["events"] == a_document()["events"]
    other.execute("ROLLBACK")
    other.close()
    assert client.post(f"/api/sessions/{ID}/records", json=batch).json["held"]["events"] == ["new"]


def test_serving_waits_for_a_lock_for_seconds_only(own_app: Flask) -> None:
    with own_app.app_context(), db.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA busy_timeout").scalar() == 5_000


def test_a_full_database_is_507_and_with_room_again_all_is_taken(
    own_app: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert client.post("/api/sessions/import", json=a_document()).status_code == 201
    with own_app.app_context(), db.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
    batch = {
        "device": "phone-1",
        "events": [{**EVENT, "id": f"new{k}", "text": "x" * 1000} for k in range(200)],
    }

    @event.listens_for(Engine, "begin")
    def no_room(connection: Connection) -> None:
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")

    answer = client.post(f"/api/sessions/{ID}/records", json=batch)
    event.remove(Engine, "begin", no_room)
    with own_app.app_context():
        db.engine.dispose()
    assert (answer.status_code, answer.json["code"]) == (507, 507)
    assert "full" in answer.json["message"]
    assert len(client.get(f"/api/sessions/{ID}").json["events"]) == len(a_document()["events"])
    held = client.post(f"/api/sessions/{ID}/records", json=batch).json["held"]
    assert len(held["events"]) == 200


def test_a_photo_on_a_full_disk_is_507_and_leaves_nothing(
    client: FlaskClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    assert client.post("/api/sessions/import", json=a_document()).status_code == 201
    picture = io.BytesIO()
    Image.new("RGB", (8, 8)).save(picture, "PNG")
    path = f"/api/sessions/{ID}/photos?t_ms={T_MS}&device=phone-1"

    def send() -> int:
        return client.post(path, data=picture.getvalue(), content_type="image/png").status_code

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        (tmp_path / "photos").mkdir(exist_ok=True)
        assert send() == 507
    assert list((tmp_path / "photos").iterdir()) == []
    assert client.get(f"/api/sessions/{ID}").json["photos"] == a_document()["photos"]
    assert send() == 200
