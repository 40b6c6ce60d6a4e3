"""The list of sessions: searched, sorted, paged, as a table, and brought up to date."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response, jsonify

from ebbline.campaigns.comparison import pair_of, picture_of
from ebbline.campaigns.definitions import sessions_of
from ebbline.sessions.overview import listing, table
from ebbline.sessions.overview.listing import Labels, list_sessions
from ebbline.sessions.overview.renewal import Renewed, renew
from ebbline.sessions.overview.search import Order, Search
from ebbline.wall_clock import now_ms
from ebbline.web.api.attachment import attachment
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.derived import PairSchema
from ebbline.web.api.list_schemas import (
    LabelsSchema,
    ListingSchema,
    RenewedSchema,
    RenewSchema,
    TableSchema,
    WantedSchema,
)
from ebbline.web.api.publish import BYTES, UnitsQuerySchema
from ebbline.web.db import db

bp = Blueprint("listing", __name__, url_prefix="/api/sessions", description="The list of sessions")


@bp.get("")
@bp.arguments(WantedSchema, location="query")
@bp.response(200, ListingSchema)
@bp.refuses(404)
def get_sessions(wanted: dict[str, Any]) -> Response:
    """The sessions asked for, as the database knows them: nothing is worked out for it."""
    by = wanted.pop("sort")
    way = wanted.pop("order", "desc" if by == "started" else "asc")
    limit, offset = wanted.pop("limit"), wanted.pop("offset")
    order = Order(by, way == "desc")
    found = list_sessions(db.session(), _search(wanted), order, limit, offset)
    return jsonify(found)  # a schema would take ten times as long over thousands of figures


@bp.get("/labels")
@bp.response(200, LabelsSchema)
def get_labels() -> Labels:
    """The vehicles and courses there are, to choose from."""
    return listing.labels(db.session())


@bp.post("/renewals")
@bp.arguments(RenewSchema)
@bp.response(200, RenewedSchema)
@bp.refuses(413, 415)
def post_renewals(wanted: dict[str, list[UUID]]) -> Renewed:
    """Work out sessions whose figures are behind, for about a second; ask again while some are
    left.
    """
    return renew(db.session(), now_ms, wanted["first"])


@bp.post("/table")
@bp.arguments(TableSchema)
@bp.response(200, {"type": "string"}, content_type="text/csv")
@bp.refuses(404, 413, 415)
def post_table(wanted: dict[str, Any]) -> Response:
    """The sessions chosen, or all that are found, as CSV: every headline figure with its interval,
    and what is known of vehicle, conditions, plan and course.
    """
    content = table.sessions_csv(db.session(), _search(wanted))
    return Response(
        content, content_type="text/csv; charset=utf-8", headers=attachment("sessions.csv")
    )


@bp.get("/<uuid:session_id>/against/<uuid:other_id>")
@bp.response(200, PairSchema)
@bp.refuses(404, 409)
def get_pair(session_id: UUID, other_id: UUID) -> Response:
    """Two sessions side by side: their headline figures, the differences, what is stated otherwise.
    Refused with 409 while the figures of one are being renewed.
    """
    return jsonify(pair_of(db.session(), session_id, other_id))


@bp.get("/<uuid:session_id>/against/<uuid:other_id>/picture")
@bp.arguments(UnitsQuerySchema, location="query")
@bp.response(200, BYTES, content_type="image/png")
@bp.refuses(404, 409)
def get_picture(query: dict[str, Any], session_id: UUID, other_id: UUID) -> Response:
    """Two sessions side by side as a picture for a film, 1920 by 1080."""
    made = picture_of(db.session(), session_id, other_id, **query)
    return Response(made.content, content_type=made.media_type, headers=attachment(made.file_name))


def _search(wanted: dict[str, Any]) -> Search:
    """What is asked for, of the sessions chosen or of a campaign's."""
    chosen = wanted.pop("session_ids", None)
    campaign = wanted.pop("campaign", None)
    if campaign is not None:
        of_it = sessions_of(db.session(), campaign)
        chosen = [one for one in of_it if chosen is None or one in chosen]
    return Search(**wanted, session_ids=None if chosen is None else tuple(chosen))
