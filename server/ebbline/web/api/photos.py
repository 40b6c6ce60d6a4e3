"""Pictures of displays and spoken notes, in and out."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response, current_app, request
from marshmallow import fields, validate
from werkzeug.exceptions import UnsupportedMediaType

from ebbline.exchange.archive import MAX_PHOTO_BYTES
from ebbline.exchange.fields import EARLIEST_MS, LATEST_MS
from ebbline.exchange.schemas import PhotoSchema
from ebbline.sessions.records.photos import MEDIA_TYPES, add_photo, photo_of
from ebbline.store.photos import PhotoFolder
from ebbline.wall_clock import now_ms
from ebbline.web import access
from ebbline.web.api.blueprint import Blueprint, body
from ebbline.web.api.schemas import AsItCame, Closed
from ebbline.web.db import db

bp = Blueprint("photos", __name__, url_prefix="/api/sessions", description="Pictures and sounds")

BYTES = {"type": "string", "contentEncoding": "binary"}
TAKEN = {media_type: {"schema": BYTES} for media_type in MEDIA_TYPES}


class PhotoQuerySchema(Closed):
    """What the sender knows of a picture or a sound, beside its bytes and their type."""

    t_ms = fields.Integer(
        required=True,
        validate=validate.Range(EARLIEST_MS, LATEST_MS, max_inclusive=False),
        metadata={"description": "When it was taken, by the device's clock."},
    )
    device = fields.String(required=True, validate=validate.Length(1, 100))
    event = fields.String(
        load_default="",
        validate=validate.Length(max=100),
        metadata={"description": "Id of the event that it belongs to, or empty."},
    )


class HeldPhotoSchema(Closed):
    """What the server now holds durably."""

    held = AsItCame(PhotoSchema, required=True)


@bp.post("/<uuid:session_id>/photos")
@bp.doc(requestBody={"required": True, "content": TAKEN})
@bp.arguments(PhotoQuerySchema, location="query")
@bp.response(200, HeldPhotoSchema)
@bp.refuses(403, 404, 409, 413, 415)
def post_photo(query: dict[str, Any], session_id: UUID) -> dict[str, Any]:
    """Keep a picture or a spoken note; sending the same again changes nothing."""
    if request.mimetype not in MEDIA_TYPES:
        raise UnsupportedMediaType(
            f"{request.mimetype} is not taken; send {', '.join(MEDIA_TYPES)}"
        )
    access.adds_for(query["device"])
    request.max_content_length = MAX_PHOTO_BYTES
    particulars = {
        "t_ms": query["t_ms"],
        "device": query["device"],
        "media_type": request.mimetype,
        "event": query["event"] or None,
    }
    held = add_photo(db.session(), photo_folder(), session_id, body(), particulars, now_ms())
    return {"held": held}


@bp.get("/<uuid:session_id>/photos/<sha256>")
@bp.response(200, BYTES, content_type="*/*")
@bp.alt_response(206, description="The part that was asked for.", success=True)
@bp.alt_response(304, description="The reader has it already.", success=True)
@bp.refuses(404)
def get_photo(session_id: UUID, sha256: str) -> Response:
    """One picture or sound as it came."""
    picture = photo_of(db.session(), photo_folder(), session_id, sha256)
    response = Response(
        picture.content, content_type=picture.media_type or "application/octet-stream"
    )
    if picture.media_type is None:  # named by a file of somebody's: not for a browser to run
        response.headers["Content-Disposition"] = "attachment"
    # Under its hash it never changes, but whether the reader may have it is asked each time.
    response.headers["Cache-Control"] = "private, no-cache"
    response.set_etag(sha256)
    # Some browsers play a sound only where they can ask for parts of it.
    size = len(picture.content)
    response.make_conditional(request, accept_ranges=True, complete_length=size)
    return response


def photo_folder() -> PhotoFolder:
    """Where this application keeps photos."""
    folder: PhotoFolder = current_app.extensions["ebbline.photos"]
    return folder
