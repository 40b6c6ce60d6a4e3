"""Recordings of other devices: GPX tracks and CSV logs."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import request
from marshmallow import fields, validate
from werkzeug.exceptions import UnsupportedMediaType

from ebbline.errors import InputError
from ebbline.exchange import csv_guess
from ebbline.exchange.csv_mapping import parse_mapping
from ebbline.exchange.recording import MAX_RECORDING_BYTES, kind_of
from ebbline.sessions.files.recordings import ImportedRecording, ImportOptions, import_recording
from ebbline.sessions.records.setups import current_setup
from ebbline.wall_clock import now_ms
from ebbline.web.api.blueprint import Blueprint, body
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

bp = Blueprint(
    "recordings", __name__, url_prefix="/api/sessions", description="What others recorded"
)

GPX, CSV = "application/gpx+xml", "text/csv"
KINDS = {GPX: "gpx", CSV: "csv"}
TEXT = {"type": "string"}


class RecordingQuerySchema(Closed):
    """What the user states of a file."""

    name = fields.String(
        load_default="import",
        validate=validate.Length(1, 200),
        metadata={"description": "The file's name."},
    )
    device = fields.String(
        validate=validate.Length(1, 100),
        metadata={"description": "Who recorded it; otherwise made from the file."},
    )
    zone = fields.String(
        metadata={"description": "IANA zone of times that say none, such as Europe/Vienna."}
    )
    mapping = fields.String(
        metadata={
            "description": "For CSV: JSON that says which column is what, as proposed by "
            "evidence/guess and confirmed by the user."
        }
    )


class GuessQuerySchema(Closed):
    """What the user states of a CSV before its mapping is proposed."""

    zone = fields.String(metadata={"description": "IANA zone of times that say none."})


class ImportedRecordingSchema(Closed):
    """What a file brought: by whom, how much, and what of it was not taken."""

    id = fields.UUID(required=True)
    devices = fields.List(fields.String(), required=True)
    fixes = fields.Integer(required=True)
    events = fields.Integer(required=True)
    log_rows = fields.Integer(required=True)
    notes = fields.List(fields.String(), required=True)


class GuessedColumnSchema(Closed):
    """One column of the file, what it was taken for, how sure that is and why."""

    column = fields.String(required=True)
    number = fields.Integer(required=True, metadata={"description": "From 1."})
    taken_as = fields.String(required=True, attribute="as", data_key="as")
    sure = fields.String(required=True, validate=validate.OneOf(["sure", "likely", "unsure"]))
    because = fields.String(required=True)


class GuessSchema(Closed):
    """A proposed mapping; nothing is imported before a user gives it back."""

    mapping = fields.Dict(required=True)
    columns = fields.List(fields.Nested(GuessedColumnSchema), required=True)
    still_open = fields.List(fields.String(), required=True, attribute="open", data_key="open")


@bp.post("/<uuid:session_id>/evidence")
@bp.doc(requestBody={"required": True, "content": {GPX: {"schema": TEXT}, CSV: {"schema": TEXT}}})
@bp.arguments(RecordingQuerySchema, location="query")
@bp.response(201, ImportedRecordingSchema, description="Something was new.")
@bp.alt_response(
    200, schema=ImportedRecordingSchema, description="All of it was here before.", success=True
)
@bp.refuses(404, 409, 413, 415)
def post_recording(query: dict[str, Any], session_id: UUID) -> tuple[ImportedRecording, int]:
    """Take a GPX track or a CSV log into a session, all of it or nothing."""
    data = recording_body(GPX, CSV)
    done = import_recording(db.session(), session_id, data, options_of(query), now_ms())
    return done, 201 if done.changed else 200


@bp.post("/<uuid:session_id>/evidence/guess")
@bp.doc(requestBody={"required": True, "content": {CSV: {"schema": TEXT}}})
@bp.arguments(GuessQuerySchema, location="query")
@bp.response(200, GuessSchema)
@bp.refuses(404, 413, 415)
def post_guess(query: dict[str, Any], session_id: UUID) -> csv_guess.Guess:
    """Propose how a CSV log might be read. Nothing is stored."""
    current_setup(db.session(), session_id)
    return csv_guess.guess(recording_body(CSV), query.get("zone"))


def options_of(query: dict[str, Any]) -> ImportOptions:
    """What the user states of a file, from the query."""
    mapping = query.get("mapping")
    return ImportOptions(
        name=query["name"],
        device=query.get("device"),
        zone=query.get("zone"),
        mapping=None if mapping is None else parse_mapping(mapping.encode()),
    )


def recording_body(*types: str) -> bytes:
    """The body, which must be what its type says."""
    if request.mimetype not in types:
        raise UnsupportedMediaType(f"{request.mimetype} is not taken; send {' or '.join(types)}")
    request.max_content_length = MAX_RECORDING_BYTES
    data = body()
    kind = kind_of(data)
    if kind != KINDS[request.mimetype]:
        raise InputError("$", f"is sent as {request.mimetype}, but looks like {kind}")
    return data
