"""The application as its tests call it, without a socket in between."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.sessions.results import results
from ebbline.web.app import create_app
from ebbline.web.db import db


@pytest.fixture(autouse=True)
def forgetful(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every test starts as a new process would: no analysis of an earlier test is remembered."""
    monkeypatch.setattr(results, "_recent", RecentlyUsed(results.ANALYSES_KEPT))


@pytest.fixture
def app(sqlite_url: str, tmp_path: Path) -> Iterator[Flask]:
    app = create_app(sqlite_url, str(tmp_path / "photos"))
    yield app
    with app.app_context():
        db.engine.dispose()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()
