"""Looking at files before they are imported, and recordings that make a session of their own."""

from __future__ import annotations

from typing import Any

from flask import request
from marshmallow import fields, validate
from werkzeug.exceptions import UnsupportedMediaType

from ebbline.exchange.photo_times import PhotoTime, proposed_time
from ebbline.exchange.pictures import MEDIA_TYPES
from ebbline.sessions.files.preview import Preview, preview
from ebbline.sessions.files.recordings import ImportedRecording, import_as_session
from ebbline.wall_clock import now_ms
from ebbline.web.api.blueprint import Blueprint, body
from ebbline.web.api.photos import BYTES
from ebbline.web.api.recordings import (
    CSV,
    GPX,
    TEXT,
    GuessSchema,
    ImportedRecordingSchema,
    RecordingQuerySchema,
    options_of,
    recording_body,
)
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

PICTURES = {media_type: {"schema": BYTES} for media_type in MEDIA_TYPES}
bp = Blueprint("imports", __name__, url_prefix="/api/imports", description="Before it is taken in")

MOST_OF_A_PICTURE = 1024 * 1024  # its own data stand at its beginning
FILES = {"required": True, "content": {GPX: {"schema": TEXT}, CSV: {"schema": TEXT}}}


class PreviewSchema(Closed):
    """What a file would bring; for a CSV without a mapping, how it might be read."""

    kind = fields.String(required=True, validate=validate.OneOf(["gpx", "csv"]))
    devices = fields.List(fields.String(), required=True)
    fixes = fields.Integer(required=True)
    events = fields.Integer(required=True)
    log_rows = fields.Integer(required=True)
    from_ms = fields.Integer(required=True, allow_none=True)
    to_ms = fields.Integer(required=True, allow_none=True)
    notes = fields.List(fields.String(), required=True)
    guess = fields.Nested(GuessSchema, required=True, allow_none=True)
    units = fields.Dict(
        required=True,
        metadata={"description": "Units that each quantity of a mapping may be in."},
    )


class PhotoNameQuerySchema(Closed):
    """What is known of a picture beside its bytes."""

    name = fields.String(load_default="", validate=validate.Length(max=300))
    zone = fields.String(metadata={"description": "IANA zone of times that say no offset."})


class PhotoTimeSchema(Closed):
    """When a picture may have been taken, by its own data or its name."""

    t_ms = fields.Integer(required=True)
    source = fields.String(required=True, validate=validate.OneOf(["exif", "name"]))
    said = fields.String(required=True)


class ProposalSchema(Closed):
    """A proposal; null where nothing says when."""

    proposal = fields.Nested(PhotoTimeSchema, required=True, allow_none=True)


@bp.post("/look")
@bp.doc(requestBody=FILES)
@bp.arguments(RecordingQuerySchema, location="query")
@bp.response(200, PreviewSchema)
@bp.refuses(413, 415)
def post_look(query: dict[str, Any]) -> Preview:
    """Say what is in a GPX or CSV file. Nothing is stored."""
    return preview(recording_body(GPX, CSV), options_of(query))


@bp.post("/evidence")
@bp.doc(requestBody=FILES)
@bp.arguments(RecordingQuerySchema, location="query")
@bp.response(201, ImportedRecordingSchema, description="Something was new.")
@bp.alt_response(
    200, schema=ImportedRecordingSchema, description="All of it was here before.", success=True
)
@bp.refuses(409, 413, 415)
def post_recording(query: dict[str, Any]) -> tuple[ImportedRecording, int]:
    """Take a GPX track or a CSV log in as a session of its own, all of it or nothing."""
    data = recording_body(GPX, CSV)
    done = import_as_session(db.session(), data, options_of(query), now_ms())
    return done, 201 if done.changed else 200


@bp.post("/photo-time")
@bp.doc(requestBody={"required": True, "content": PICTURES})
@bp.arguments(PhotoNameQuerySchema, location="query")
@bp.response(200, ProposalSchema)
@bp.refuses(413, 415)
def post_photo_time(query: dict[str, Any]) -> dict[str, PhotoTime | None]:
    """Propose when a picture was taken, from its first bytes and its name. Nothing is stored."""
    if request.mimetype not in MEDIA_TYPES:
        raise UnsupportedMediaType(
            f"{request.mimetype} is not taken; send {', '.join(MEDIA_TYPES)}"
        )
    request.max_content_length = MOST_OF_A_PICTURE
    return {"proposal": proposed_time(body(), query["name"], query.get("zone"))}
