"""What goes wrong on our side is said so, and takes nothing else with it."""

from __future__ import annotations

import logging
import sqlite3
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from exchange.documents import ID, T_MS, a_document
from flask import Flask
from flask.testing import FlaskClient

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
    app = create_app(sqlite_url, str(tmp_path / "photos"))
    yield app
    with app.app_context():
        db.engine.dispose()


def test_a_database_that_is_busy_too_long_is_503_and_later_all_is_well(
    impatient: Flask, sqlite_url: str
) -> None:
    client = impatient.test_client()
    assert client.post("/api/sessions/import", json=a_document()).status_code == 201
    batch: Any = {"device": "phone-1", "events": [EVENT]}
    other = sqlite3.connect(sqlite_url.removeprefix("sqlite:///"), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    answer = client.post(f"/api/sessions/{ID}/records", json=batch)
    assert answer.status_code == 503
    assert answer.json["code"] == 503
    assert client.get(f"/api/sessions/{ID}").json["events"] == a_document()["events"]
    other.execute("ROLLBACK")
    other.close()
    assert client.post(f"/api/sessions/{ID}/records", json=batch).json["held"]["events"] == ["new"]
