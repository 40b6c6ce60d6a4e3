"""The phone's and the desk's pages: files served as they are, from the wheel or the checkout."""

from __future__ import annotations

import importlib.util
import ssl
from hashlib import sha256
from pathlib import Path

from flask import (
    Blueprint,
    Response,
    abort,
    current_app,
    jsonify,
    request,
    send_from_directory,
)

from ebbline.address import Address

PACKAGE = Path(__file__).parents[1]
# The types we hand out; a file of any other kind in there is not for browsers.
TYPES = {
    ".css": "text/css",
    ".html": "text/html",
    ".js": "text/javascript",
    ".json": "application/json",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}

pages = Blueprint("pages", __name__)


def folder() -> Path:
    """Where the pages lie: inside an installed package, beside ``server/`` in a checkout."""
    installed = PACKAGE / "pwa"
    return installed if installed.is_dir() else PACKAGE.parents[1] / "pwa"


@pages.get("/")
def landing() -> Response:
    """Where to go from here."""
    return _file("index.html")


@pages.get('/<any(capture, desk, follow, join, "sign-in"):page>')
def page(page: str) -> Response:
    """The phone's page, the desk's, or one beside them."""
    return _file(f"{page}/index.html")


@pages.get("/join/where.json")
def where() -> Response:
    """What the page that lets phones in has to know of this server."""
    address: Address = current_app.extensions["ebbline.address"]
    authority = _authority(address)
    return jsonify(
        url=address.public_url or request.host_url.rstrip("/"),
        authority=authority is not None,
        sha256=None if authority is None else sha256(authority).digest().hex(":").upper(),
    )


@pages.get("/join/authority.crt")
def authority() -> Response:
    """The local authority's certificate, as phones take it."""
    found = _authority(current_app.extensions["ebbline.address"])
    if found is None:
        abort(404)
    return Response(found, content_type="application/x-x509-ca-cert")


@pages.get('/<any(capture, desk, follow, join, shared, "sign-in"):part>/<path:name>')
def part(part: str, name: str) -> Response:
    """A file of one of the parts."""
    return _file(f"{part}/{name}")


@pages.get("/<name>")
def top(name: str) -> Response:
    """A file of the top level, such as the service worker."""
    return _file(name)


@pages.get("/vendor/d3.min.js")
def d3() -> Response:
    """What the desk draws charts with: D3, from the package that carries it."""
    spec = importlib.util.find_spec("mpld3")
    if spec is None or spec.origin is None:
        abort(404)
    return _send(Path(spec.origin).parent / "js", "d3.v5.min.js")


def _authority(address: Address) -> bytes | None:
    if address.authority is None:
        return None
    return ssl.PEM_cert_to_DER_cert(Path(address.authority).read_text())


def _file(name: str) -> Response:
    return _send(folder(), name)


def _send(root: Path, name: str) -> Response:
    media_type = TYPES.get(Path(name).suffix)
    if media_type is None:
        abort(404)
    response = send_from_directory(root, name, mimetype=media_type, etag=True, max_age=0)
    response.headers["Cache-Control"] = "no-cache"  # ask each time; the ETag makes that cheap
    return response
