"""What a session means."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response, jsonify
from marshmallow import fields, validate

from ebbline.exchange import json_text, result_document
from ebbline.exchange.schemas import SetupSchema
from ebbline.sessions.results.results import analysis_of, result_of, trial
from ebbline.web.api.blueprint import Blueprint, body
from ebbline.web.api.derived import CurvesSchema, ResultSchema
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

bp = Blueprint("results", __name__, url_prefix="/api/sessions", description="What it means")


class CurvesQuerySchema(Closed):
    """How finely to draw."""

    max_points = fields.Integer(load_default=4000, validate=validate.Range(min=2, max=200_000))


@bp.get("/<uuid:session_id>/result")
@bp.response(200, ResultSchema)
@bp.refuses(404, 422)
def get_result(session_id: UUID) -> Response:
    """The result document."""
    return Response(result_of(db.session(), session_id), content_type="application/json")


class TrialSchema(Closed):
    """What a session would mean."""

    result = fields.Nested(ResultSchema, required=True)


@bp.post("/<uuid:session_id>/trial")
@bp.doc(
    requestBody={"required": True, "content": {"application/json": {"schema": SetupSchema}}},
)
@bp.response(200, TrialSchema)
@bp.refuses(404, 413, 415, 422)
def post_trial(session_id: UUID) -> Response:
    """The result document that a session would have under this set-up. Nothing is stored."""
    result = trial(db.session(), session_id, json_text.parse(body()))
    return Response(b'{"result":' + result + b"}", content_type="application/json")


@bp.get("/<uuid:session_id>/curves")
@bp.arguments(CurvesQuerySchema, location="query")
@bp.response(200, CurvesSchema)
@bp.refuses(404)
def get_curves(query: dict[str, Any], session_id: UUID) -> Response:
    """The derived line of the run, for drawing."""
    curves = analysis_of(db.session(), session_id).curves
    return jsonify(result_document.curves_document(curves, query["max_points"]))
