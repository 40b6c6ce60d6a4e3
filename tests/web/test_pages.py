"""Serving the phone's and the desk's files."""

from __future__ import annotations

import re

import pytest
from flask import Flask
from flask.testing import FlaskClient

from ebbline.web import pwa
from ebbline.web.modules import undocumented


def every_file() -> list[str]:
    """Each file that browsers are meant to get, as a path below ``pwa/``."""
    root = pwa.folder()
    return sorted(
        str(file.relative_to(root).as_posix())
        for file in root.rglob("*")
        if file.is_file() and file.suffix in pwa.TYPES
    )


def test_every_file_is_served_as_it_lies_with_its_type(client: FlaskClient) -> None:
    for name in every_file():
        with client.get(f"/{name}") as answer:
            assert answer.status_code == 200, name
            content = (pwa.folder() / name).read_bytes()
            if name == "sw.js":  # below the line that says what to keep
                assert answer.text.split("\n", 1)[1] == undocumented(content.decode())
            else:
                assert answer.data == content, name
            assert answer.content_type.startswith(pwa.TYPES["." + name.rsplit(".", 1)[1]]), name
            assert answer.headers["Cache-Control"] == "no-cache", name


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("/", "index.html"),
        ("/capture", "capture/index.html"),
        ("/desk", "desk/index.html"),
        ("/desk?session=1", "desk/index.html"),
        ("/sign-in", "sign-in/index.html"),
    ],
)
def test_pages_have_short_addresses(client: FlaskClient, path: str, name: str) -> None:
    with client.get(path) as answer:
        assert answer.status_code == 200
        assert answer.mimetype == "text/html"
        without_preloads = re.sub(r'<link rel="modulepreload"[^\n]*\n', "", answer.text)
        as_it_lies = re.sub(r"/version/[0-9a-f]{12}/", "/", without_preloads)
        assert as_it_lies == (pwa.folder() / name).read_text()
        assert answer.headers["Cache-Control"] == "no-cache"


@pytest.mark.parametrize("encoding", ["br", "gzip", "identity"])
@pytest.mark.parametrize("path", ["/shared/theme.css", "/capture", "/sw.js"])
def test_what_is_unchanged_is_not_sent_twice(client: FlaskClient, path: str, encoding: str) -> None:
    asked = {"Accept-Encoding": encoding}
    with client.get(path, headers=asked) as first:
        tag = first.headers["ETag"]
    with client.get(path, headers={**asked, "If-None-Match": tag}) as again:
        assert again.status_code == 304
        assert again.data == b""
    other = {"Accept-Encoding": "br" if encoding == "gzip" else "gzip", "If-None-Match": tag}
    with client.get(path, headers=other) as another:  # other bytes: a tag of their own
        assert another.status_code == 200
        assert another.headers["ETag"] != tag


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
        "/capture/sending/types.d.ts",
        "/version/000000000000/capture/main.js",
        "/version/../capture/main.js",
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
