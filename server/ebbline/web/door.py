"""What every request passes on its way in, and every answer on its way out."""

from __future__ import annotations

from flask import Flask, Response, request
from werkzeug.exceptions import SecurityError, UnsupportedMediaType

from ebbline.exchange import pictures, sounds

MAX_UPLOAD_BYTES = 16 * 1024 * 1024  # one batch of records; files have their own limit
WRITING = frozenset({"POST", "PUT", "PATCH", "DELETE"})
# None of these can be sent by a form on somebody else's page without the browser asking us first.
TYPES_TAKEN = frozenset(
    {
        *("application/json", "application/zip", "application/gpx+xml", "text/csv"),
        *pictures.MEDIA_TYPES,
        *sounds.MEDIA_TYPES,
    }
)

POLICY = {
    "default-src": "'self'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' data: blob:",
    "media-src": "'self'",
    "connect-src": "'self'",
    "worker-src": "'self'",
    "manifest-src": "'self'",
    "object-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'none'",
    "frame-ancestors": "'none'",
}
# Parts of a page, which its own policy confines. They don't say it again.
PARTS = frozenset({"text/css", "text/javascript", "image/png", "application/manifest+json"})
WORKER = "/sw.js"  # runs on its own


def register(app: Flask) -> None:
    """Put the door into an application."""
    app.before_request(_refuse_foreign_names)
    app.before_request(_refuse_foreign_types)
    app.after_request(_add_headers)


def _refuse_foreign_names() -> None:
    """First of all: the framework itself would say so only after everybody else was asked."""
    if isinstance(request.routing_exception, SecurityError):
        raise request.routing_exception


def _refuse_foreign_types() -> None:
    if request.method == "DELETE" and not request.mimetype:
        return  # no form can send one
    if request.method in WRITING and request.mimetype not in TYPES_TAKEN:
        raise UnsupportedMediaType(
            f"{request.mimetype or 'no type'} is not taken; send application/json"
        )


def _add_headers(response: Response) -> Response:
    headers = response.headers
    headers["X-Content-Type-Options"] = "nosniff"
    headers["Cross-Origin-Resource-Policy"] = "same-origin"
    if response.mimetype not in PARTS or request.path == WORKER:
        headers["Content-Security-Policy"] = "; ".join(f"{k} {v}" for k, v in POLICY.items())
        headers["Referrer-Policy"] = "same-origin"
        headers["Cross-Origin-Opener-Policy"] = "same-origin"
        headers["Permissions-Policy"] = (
            "geolocation=(self), screen-wake-lock=(self), camera=(self), microphone=(self)"
        )
    if request.path.startswith("/api/"):
        headers.setdefault("Cache-Control", "no-store")
    return response
