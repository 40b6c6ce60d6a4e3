"""Serving the phone's and the desk's files."""

from __future__ import annotations

import pytest
from flask import Flask
from flask.testing import FlaskClient

from ebbline.web import pwa


def every_file() -> list[str]:
    """Each file that browsers are meant to get, as a path below ``pwa/``."""
    root = pwa.folder()
    return sorted(
        str(file.relative_to(root).as_posix())
        for file in root.rglob("*")
        if file.is_file() and file.suffix in pwa.TYPES
    )


@pytest.mark.parametrize("name", every_file())
def test_every_file_is_served_as_it_lies_with_its_type(client: FlaskClient, name: str) -> None:
    with client.get(f"/{name}") as answer:
        assert answer.status_code == 200
        assert answer.data == (pwa.folder() / name).read_bytes()
        assert answer.content_type.startswith(pwa.TYPES["." + name.rsplit(".", 1)[1]])
        assert answer.headers["Cache-Control"] == "no-cache"


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("/", "index.html"),
        ("/capture", "capture/index.html"),
        ("/desk", "desk/index.html"),
    ],
)
def test_pages_have_short_addresses(client: FlaskClient, path: str, name: str) -> None:
    with client.get(path) as answer:
        assert answer.status_code == 200
        assert answer.data == (pwa.folder() / name).read_bytes()


def test_an_unchanged_file_is_not_sent_twice(client: FlaskClient) -> None:
    with client.get("/shared/theme.css") as first:
        tag = first.headers["ETag"]
    with client.get("/shared/theme.css", headers={"If-None-Match": tag}) as again:
        assert again.status_code == 304
        assert again.data == b""


def test_the_charts_come_from_our_own_address(client: FlaskClient) -> None:
    with client.get("/vendor/d3.min.js") as answer:
        assert answer.status_code == 200
        assert answer.mimetype == "text/javascript"
        assert len(answer.data) > 200_000


@pytest.mark.parametrize(
    "path",
    [
        "/shared/../../pyproject.toml",
        "/shared/%2e%2e/%2e%2e/pyproject.toml",
        "/shared/..%2f..%2fpyproject.toml",
        "/shared//etc/hosts.html",
        "/tsconfig.d.ts",
        "/desk",
        "/.env",
    ],
)
def test_nothing_outside_the_folder_is_ever_served(app: Flask, path: str) -> None:
    with app.test_client().get(path, follow_redirects=True) as answer:
        if path == "/desk":  # a folder's own name is a page, never a listing
            assert answer.mimetype == "text/html"
        else:
            assert answer.status_code == 404
