"""The phone's and the desk's pages: files sent as they lie, from the wheel or the checkout."""

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
)
from flask.blueprints import BlueprintSetupState
from werkzeug.security import safe_join

from ebbline.address import Address
from ebbline.web import packing
from ebbline.web.modules import undocumented
from ebbline.web.pages import Pages, offline_copy, served_file, served_html

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
PACKED_ALREADY = frozenset({"image/png"})

# Which page of the desk an address asks for; without any it is the list.
DESK_PAGES = {
    "session": "desk/session-page.js",
    "campaign": "desk/campaign-page.js",
    "campaigns": "desk/campaigns-page.js",
    "compare": "desk/pair-page.js",
}

# What is asked for by its version never changes; all else is asked for again, and its tag makes
# that cheap.
FOR_GOOD = "max-age=31536000, immutable"
ASK_AGAIN = "no-cache"

pages = Blueprint("pages", __name__)


def folder() -> Path:
    """Where the pages lie: inside an installed package, beside ``server/`` in a checkout."""
    installed = PACKAGE / "pwa"
    return installed if installed.is_dir() else PACKAGE.parents[1] / "pwa"


@pages.record_once
def _find_pages(state: BlueprintSetupState) -> None:
    state.app.extensions["ebbline.pages"] = Pages(folder())


@pages.get("/")
def landing() -> Response:
    """Where to go from here."""
    return _send(served_html(_pages().page("")), TYPES[".html"])


@pages.get('/<any(capture, desk, follow, join, "sign-in"):page>')
def page(page: str) -> Response:
    """The phone's page, the desk's, or one beside them."""
    soon = None
    if page == "desk":  # its script tells by the same which page it is
        soon = next(
            (module for name, module in DESK_PAGES.items() if name in request.args),
            "desk/session-list.js",
        )
    return _send(served_html(_pages().page(page), soon), TYPES[".html"])


@pages.get("/version/<version>/<path:name>")
def file_of_version(version: str, name: str) -> Response:
    """A file as a page of this version takes it in."""
    found = _pages().page_of_version(version, name)
    if found is None:
        abort(404)
    return _send(served_file(found, name), TYPES[Path(name).suffix], FOR_GOOD)


@pages.get("/sw.js")
def worker() -> Response:
    """The phone's service worker, told what to keep."""
    copy = offline_copy(_pages().page("capture"))
    return _send(copy + undocumented((folder() / "sw.js").read_text()).encode(), TYPES[".js"])


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
    script = Path(spec.origin).parent / "js" / "d3.v5.min.js"
    return _send(script.read_bytes(), TYPES[".js"])


def _authority(address: Address) -> bytes | None:
    if address.authority is None:
        return None
    return ssl.PEM_cert_to_DER_cert(Path(address.authority).read_text())


def _pages() -> Pages:
    found: Pages = current_app.extensions["ebbline.pages"]
    return found


def _file(name: str) -> Response:
    path = safe_join(str(folder()), name)
    media_type = TYPES.get(Path(name).suffix)
    if path is None or media_type is None or not Path(path).is_file():
        abort(404)
    return _send(Path(path).read_bytes(), media_type)


def _send(content: bytes, media_type: str, cache_control: str = ASK_AGAIN) -> Response:
    encoding = "identity" if media_type in PACKED_ALREADY else packing.chosen()
    response = Response(packing.packed_once(content, encoding), mimetype=media_type)
    if cache_control == FOR_GOOD:
        response.content_type = media_type  # of a page in UTF-8: a part of it need not say so
    if media_type not in PACKED_ALREADY:
        response.vary.add("Accept-Encoding")
    if encoding != "identity":
        response.content_encoding = encoding
    response.headers["Cache-Control"] = cache_control
    if cache_control == ASK_AGAIN:
        response.set_etag(f"{sha256(content).hexdigest()[:16]}-{encoding}")
        response.make_conditional(request)
    return response
