"""What is sent is packed as the asker takes it, and unpacks to the same bytes."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable

import brotli
import pytest
from flask import Flask, Response
from flask.testing import FlaskClient

from ebbline.web import packing, pwa

UNPACK: dict[str | None, Callable[[bytes], bytes]] = {
    "br": brotli.decompress,
    "gzip": gzip.decompress,
    None: bytes,
}


USED = {
    "gzip, deflate, br, zstd": "br",
    "gzip, deflate": "gzip",
    "br;q=0, gzip;q=0.5": "gzip",
    "gzip;q=1, br;q=0.1": "gzip",
    "deflate": None,
    "identity": None,
    None: None,
}


@pytest.mark.parametrize("path", ["/capture/main.js", "/manifest.webmanifest"])
def test_files_come_packed_as_the_browser_takes_them(client: FlaskClient, path: str) -> None:
    for accepted, used in USED.items():
        headers = {} if accepted is None else {"Accept-Encoding": accepted}
        with client.get(path, headers=headers) as answer:
            assert answer.headers.get("Content-Encoding") == used, accepted
            assert "Accept-Encoding" in answer.headers["Vary"]
            assert UNPACK[used](answer.data) == (pwa.folder() / path[1:]).read_bytes()
            assert int(answer.headers["Content-Length"]) == len(answer.data)


def test_pictures_are_packed_already(client: FlaskClient) -> None:
    with client.get("/shared/icons/icon-192.png", headers={"Accept-Encoding": "br"}) as answer:
        assert "Content-Encoding" not in answer.headers
        assert answer.data == (pwa.folder() / "shared" / "icons" / "icon-192.png").read_bytes()


def test_no_file_is_packed_twice(client: FlaskClient) -> None:
    packing.packed_once.cache_clear()
    for _ in range(3):
        client.get("/shared/theme.css", headers={"Accept-Encoding": "br"}).close()
    assert packing.packed_once.cache_info().misses == 1


@pytest.fixture
def app(own_app: Flask) -> Flask:
    return own_app  # no address can be added to one that has answered


@pytest.fixture
def long_answer(app: Flask) -> str:
    """Address of an answer that is worth packing."""
    app.add_url_rule("/api/long", "long", lambda: Response(LONG, content_type="application/json"))
    return "/api/long"


LONG = json.dumps({"value": list(range(2000))}).encode()


@pytest.mark.parametrize("encoding", ["br", "gzip"])
def test_a_long_answer_of_the_api_is_packed(app: Flask, long_answer: str, encoding: str) -> None:
    answer = app.test_client().get(long_answer, headers={"Accept-Encoding": encoding})
    assert answer.headers["Content-Encoding"] == encoding
    assert "Accept-Encoding" in answer.headers["Vary"]
    assert len(answer.data) == int(answer.headers["Content-Length"]) < len(LONG) / 2
    assert UNPACK[encoding](answer.data) == LONG


def test_who_takes_nothing_packed_gets_it_plain(app: Flask, long_answer: str) -> None:
    answer = app.test_client().get(long_answer)
    assert "Content-Encoding" not in answer.headers
    assert answer.data == LONG


def test_a_short_answer_is_not_worth_packing(client: FlaskClient) -> None:
    answer = client.get("/api/time", headers={"Accept-Encoding": "br"})
    assert "Content-Encoding" not in answer.headers
    assert answer.json["server_ms"] > 0
