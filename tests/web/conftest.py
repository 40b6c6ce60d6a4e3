"""The application as its tests call it, without a socket in between."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from database_contents import empty
from flask import Flask
from flask.testing import FlaskClient

from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.sessions.results import results
from ebbline.store.photos import PhotoFolder
from ebbline.web.api.sign_in import Attempts
from ebbline.web.app import create_app
from ebbline.web.db import db


@pytest.fixture(autouse=True)
def forgetful(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every test starts as a new process would: no analysis of an earlier test is remembered."""
    monkeypatch.setattr(results, "_recent", RecentlyUsed(results.ANALYSES_KEPT))


@pytest.fixture(scope="session")
def lasting_app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """Made once, as most of making it is to describe its API."""
    folder = tmp_path_factory.mktemp("app")
    app = create_app(f"sqlite:///{folder / 'ebbline.sqlite3'}", str(folder / "photos"))
    yield app
    with app.app_context():
        db.engine.dispose()


@pytest.fixture
def app(lasting_app: Flask, tmp_path: Path) -> Flask:
    """With nothing in its database, no photo, and no attempt to sign in behind it."""
    with lasting_app.app_context():
        empty(db.engine)
    lasting_app.extensions["ebbline.photos"] = PhotoFolder(str(tmp_path / "photos"))
    lasting_app.extensions["ebbline.attempts"] = Attempts()
    return lasting_app


@pytest.fixture
def own_app(sqlite_url: str, tmp_path: Path) -> Iterator[Flask]:
    """One that has answered nobody yet."""
    app = create_app(sqlite_url, str(tmp_path / "photos"))
    yield app
    with app.app_context():
        db.engine.dispose()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()
