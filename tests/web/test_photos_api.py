"""Pictures over HTTP: kept once, served only as what they are."""

from __future__ import annotations

import hashlib
import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from database_contents import contents
from exchange.documents import ID, T_MS
from exchange.test_pictures import PICTURES
from flask import Flask
from flask.testing import FlaskClient

from ebbline.exchange.archive import MAX_PHOTO_BYTES
from ebbline.web.db import db

PHOTOS = f"/api/sessions/{ID}/photos"
JPEG = PICTURES["image/jpeg"]
SHA256 = hashlib.sha256(JPEG).hexdigest()


@pytest.fixture
def client(client: FlaskClient) -> FlaskClient:
    setup = {"session": {"id": ID}}
    assert client.put(f"/api/sessions/{ID}", json={"base": None, "setup": setup}).status_code == 200
    return client


def send(client: FlaskClient, data: bytes = JPEG, media_type: str = "image/jpeg", **query: Any):
    told = {"t_ms": T_MS, "device": "phone-1", "event": "e1", **query}
    return client.post(PHOTOS, data=data, content_type=media_type, query_string=told)


def held(app: Flask, tmp_path: Path) -> Any:
    folder = tmp_path / "photos"
    files = sorted(file.name for file in folder.iterdir()) if folder.exists() else []
    with app.app_context():
        return contents(db.engine), files


@pytest.mark.parametrize("media_type", PICTURES)
def test_a_picture_is_kept_listed_and_served_as_it_came(
    client: FlaskClient, media_type: str
) -> None:
    data = PICTURES[media_type]
    answer = send(client, data, media_type)
    assert answer.status_code == 200
    record = {
        "sha256": hashlib.sha256(data).hexdigest(),
        "t_ms": T_MS,
        "device": "phone-1",
        "media_type": media_type,
        "event": "e1",
    }
    assert answer.json == {"held": record}
    assert client.get(f"/api/sessions/{ID}").json["photos"] == [record]
    served = client.get(f"{PHOTOS}/{record['sha256']}")
    assert (served.status_code, served.data, served.mimetype) == (200, data, media_type)
    assert served.headers["X-Content-Type-Options"] == "nosniff"
    again = client.get(
        f"{PHOTOS}/{record['sha256']}", headers={"If-None-Match": served.headers["ETag"]}
    )
    assert (again.status_code, again.data) == (304, b"")


def test_a_resent_picture_changes_nothing(app: Flask, client: FlaskClient, tmp_path: Path) -> None:
    first = send(client)
    before = held(app, tmp_path)
    assert send(client).json == first.json
    assert held(app, tmp_path) == before


def test_a_picture_without_an_event_belongs_to_none(client: FlaskClient) -> None:
    assert send(client, event="").json["held"]["event"] is None


def test_the_same_picture_with_other_particulars_gets_409_and_what_is_held(
    app: Flask, client: FlaskClient, tmp_path: Path
) -> None:
    first = send(client).json["held"]
    before = held(app, tmp_path)
    answer = send(client, t_ms=T_MS + 1)
    assert answer.status_code == 409
    assert answer.json["held"] == first
    assert held(app, tmp_path) == before


NO_PICTURES = [
    (b"<html>sign in</html>", "image/jpeg", 422),
    (JPEG[: len(JPEG) // 2], "image/jpeg", 422),
    (JPEG, "image/png", 422),
    (JPEG, "image/svg+xml", 415),
    (JPEG, "application/json", 415),
    (b"", "image/jpeg", 422),
]
MALFORMED = ({"t_ms": "soon"}, {"t_ms": 5}, {"device": ""}, {"event": "e" * 101}, {"evnt": "e1"})


def test_what_is_no_picture_is_refused_and_nothing_is_kept(
    app: Flask, client: FlaskClient, tmp_path: Path
) -> None:
    before = held(app, tmp_path)
    for data, media_type, status in NO_PICTURES:
        answer = send(client, data, media_type)
        assert answer.status_code == status, media_type
        assert answer.json["message"]
    assert held(app, tmp_path) == before


def test_malformed_particulars_are_refused(app: Flask, client: FlaskClient, tmp_path: Path) -> None:
    before = held(app, tmp_path)
    for query in MALFORMED:
        assert send(client, **query).status_code == 422, query
    assert held(app, tmp_path) == before


def test_a_picture_beyond_the_limit_is_told_the_limit(
    app: Flask, client: FlaskClient, tmp_path: Path
) -> None:
    before = held(app, tmp_path)
    answer = send(client, bytes(MAX_PHOTO_BYTES + 1))
    assert answer.status_code == 413
    assert f"{MAX_PHOTO_BYTES:,} bytes" in answer.json["message"]
    assert held(app, tmp_path) == before


def test_a_picture_of_more_than_a_batch_of_records_may_have_is_taken(client: FlaskClient) -> None:
    padded = JPEG + bytes(17 * 1024 * 1024)  # what follows a JPEG's end is not part of it
    assert send(client, padded).status_code == 200


def test_a_picture_of_another_session_is_not_served(client: FlaskClient) -> None:
    send(client)
    other = "00000000-0000-4000-8000-000000000001"
    assert client.get(f"/api/sessions/{other}/photos/{SHA256}").status_code == 404
    setup = {"session": {"id": other}}
    client.put(f"/api/sessions/{other}", json={"base": None, "setup": setup})
    assert client.get(f"/api/sessions/{other}/photos/{SHA256}").status_code == 404
    assert client.get(f"{PHOTOS}/{'0' * 64}").status_code == 404
    assert client.get(f"{PHOTOS}/..%2Febbline.sqlite3").status_code == 404


def test_a_picture_for_a_session_that_is_not_there_gets_404(client: FlaskClient) -> None:
    answer = client.post(
        "/api/sessions/00000000-0000-4000-8000-000000000001/photos",
        data=JPEG,
        content_type="image/jpeg",
        query_string={"t_ms": T_MS, "device": "p"},
    )
    assert answer.status_code == 404


def test_a_picture_travels_with_its_session(client: FlaskClient) -> None:
    record = send(client).json["held"]
    packed = client.get(f"/api/sessions/{ID}/file")
    assert packed.mimetype == "application/zip"
    with zipfile.ZipFile(io.BytesIO(packed.data)) as archive:
        assert archive.read(f"photos/{SHA256}.jpg") == JPEG
    again = client.post("/api/sessions/import", data=packed.data, content_type="application/zip")
    assert again.status_code == 200
    assert client.get(f"/api/sessions/{ID}").json["photos"] == [record]


def test_a_file_of_a_type_that_browsers_run_is_only_handed_out_to_be_saved(
    client: FlaskClient,
) -> None:
    page = b"<script>alert(1)</script>"
    sha256 = hashlib.sha256(page).hexdigest()
    document = {
        "format": "ebbline-session",
        "version": 1,
        "session": {"id": ID},
        "photos": [{"sha256": sha256, "media_type": "text/html"}],
    }
    from ebbline.exchange.session_file import dump_archive

    packed = dump_archive(document, {sha256: page})
    client.post("/api/sessions/import", data=packed, content_type="application/zip")
    served = client.get(f"{PHOTOS}/{sha256}")
    assert served.mimetype == "application/octet-stream"
    assert served.headers["Content-Disposition"] == "attachment"
