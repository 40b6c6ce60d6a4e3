"""Following a session while it is being driven."""

from __future__ import annotations

import dataclasses
from typing import Any
from uuid import UUID

from flask import Response, jsonify, request
from marshmallow import fields, validate

from ebbline import __version__
from ebbline.exchange.schemas import CourseSchema, EventSchema, ReadingSchema
from ebbline.records.result import Quantity
from ebbline.sessions.live.crew import Place, crew_of
from ebbline.sessions.live.following import cursor_of, live_of
from ebbline.sessions.live.snapshot import ALERTS, TRAIL_POINTS, CountedFrom, Position
from ebbline.wall_clock import now_ms
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.derived import schema_of
from ebbline.web.api.schemas import AsItCame, Closed
from ebbline.web.db import db

bp = Blueprint("live", __name__, url_prefix="/api/sessions", description="While it is driven")


class AlertSchema(Closed):
    """Something that those behind must know at once; ``t_ms`` in session time."""

    kind = fields.String(required=True, validate=validate.OneOf(ALERTS))
    t_ms = fields.Integer(required=True)
    event_id = fields.String(required=True)


class LiveSchema(Closed):
    """How it stands by what has arrived. Figures are provisional, and wide for it."""

    server_ms = fields.Integer(required=True)
    cursor = fields.Integer(
        required=True, metadata={"description": "Rises with every addition to the session."}
    )
    position = fields.Nested(schema_of(Position), required=True, allow_none=True)
    trail = fields.List(
        fields.List(fields.Float(), validate=validate.Length(equal=2)),
        required=True,
        validate=validate.Length(max=TRAIL_POINTS),
        metadata={"description": "Latitude and longitude of the last quarter of an hour."},
    )
    last_event = AsItCame(EventSchema, required=True, allow_none=True)
    alerts = fields.List(fields.Nested(AlertSchema), required=True)
    zero = fields.Nested(
        schema_of(CountedFrom),
        required=True,
        allow_none=True,
        metadata={"description": "What is counted from, by the rule of the result."},
    )
    past_zero_m = fields.Nested(schema_of(Quantity), required=True, allow_none=True)
    energy_past_zero_kwh = fields.Nested(schema_of(Quantity), required=True, allow_none=True)
    provisional = fields.Boolean(required=True, validate=validate.Equal(True))
    course = AsItCame(CourseSchema, required=True)
    vehicle_label = fields.String(required=True, allow_none=True)


@bp.get("/<uuid:session_id>/live")
@bp.response(200, LiveSchema)
@bp.alt_response(304, description="Nothing was added since.", success=True)
@bp.refuses(404)
def get_live(session_id: UUID) -> Response:
    """How the session stands; with ``If-None-Match``, 304 when nothing was added since."""
    tag = f"{cursor_of(db.session(), session_id)}-{__version__}"
    if request.if_none_match.contains(tag):
        response = Response(status=304)
    else:
        found = dataclasses.asdict(live_of(db.session(), session_id))
        response = jsonify({"server_ms": now_ms(), **found})
    response.set_etag(tag)
    response.headers["Cache-Control"] = "private, no-cache"
    return response


class CrewQuerySchema(Closed):
    """Who asks, and what it was told before."""

    device = fields.String(
        required=True,
        validate=validate.Length(1, 100),
        metadata={"description": "Its own records are left out."},
    )
    since = fields.String(
        load_default="0.0",
        validate=validate.Regexp(r"^[0-9]{1,9}\.[0-9]{1,9}$"),
        metadata={"description": "The `until` of the last answer; nothing: from the beginning."},
    )


class RecorderSchema(Closed):
    """Somebody's phone, or the desk. Its stamps and the offset make session time."""

    id = fields.String(required=True)
    label = fields.String(required=True, allow_none=True)
    clock_offset_ms = fields.Float(required=True, allow_none=True)


class CrewSchema(Closed):
    """What the others recorded since, as it came: which of it counts is the reader's to say."""

    since = fields.String(
        required=True,
        metadata={"description": "0.0: all there is; what was told before is void."},
    )
    until = fields.String(required=True)
    devices = fields.List(fields.Nested(RecorderSchema), required=True)
    events = fields.List(AsItCame(EventSchema), required=True)
    readings = fields.List(AsItCame(ReadingSchema), required=True)


@bp.get("/<uuid:session_id>/crew")
@bp.arguments(CrewQuerySchema, location="query")
@bp.response(200, CrewSchema)
@bp.refuses(404)
def get_crew(query: dict[str, Any], session_id: UUID) -> dict[str, Any]:
    """What others have recorded in the session, for a phone that records in it too."""
    since = Place(*map(int, query["since"].split(".")))
    found = crew_of(db.session(), session_id, query["device"], since)
    return {
        "since": _written(found.since),
        "until": _written(found.until),
        "devices": found.devices,
        "events": found.events,
        "readings": found.readings,
    }


def _written(place: Place) -> str:
    return f"{place.events}.{place.readings}"
