"""What was published of sessions and campaigns: recording it, and what became of it since."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, get_args
from uuid import UUID

from flask import Response, stream_with_context
from marshmallow import fields, validate

from ebbline.campaigns import publications as of_campaigns
from ebbline.records.comparison import Verdict
from ebbline.records.result import Bounds
from ebbline.sessions.publications import of_session as of_sessions
from ebbline.sessions.publications.freezing import frozen
from ebbline.sessions.results import publishing
from ebbline.wall_clock import now_ms
from ebbline.web import access
from ebbline.web.api.attachment import attachment
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.derived import schema_of
from ebbline.web.api.list_schemas import FiguresSchema
from ebbline.web.api.photos import photo_folder
from ebbline.web.api.publish import BYTES, UnitsQuerySchema
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

if TYPE_CHECKING:
    from ebbline.report.figures import Units

bp = Blueprint("publications", __name__, url_prefix="/api", description="Once published")


class RecordSchema(Closed):
    """Who publishes, unless somebody is signed in, and where it appears."""

    by = fields.String(load_default=None, allow_none=True, validate=validate.Length(max=200))
    note = fields.String(load_default=None, allow_none=True, validate=validate.Length(max=2000))


class SeveralSchema(RecordSchema):
    """Several sessions to publish together; with ``record`` each is recorded as published."""

    session_ids = fields.List(
        fields.UUID(), required=True, validate=validate.Length(1, publishing.MOST_AT_ONCE)
    )
    units = fields.String(load_default="km", validate=validate.OneOf(publishing.UNITS))
    record = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class ChangedSchema(Closed):
    """A figure as published and as it is now."""

    key = fields.String(required=True)
    of = fields.String(
        required=True, allow_none=True, metadata={"description": "Whose, of a campaign's figures."}
    )
    words = fields.String(required=True)
    dimension = fields.String(required=True)
    old = fields.Nested(schema_of(Bounds), required=True, allow_none=True)
    new = fields.Nested(schema_of(Bounds), required=True, allow_none=True)


class RewordedSchema(Closed):
    """What was said, and what is to be said now; null: nothing."""

    key = fields.String(required=True)
    old = fields.String(required=True, allow_none=True)
    new = fields.String(required=True, allow_none=True)


class PublicationSchema(Closed):
    """What was published once, frozen, beside what is found now."""

    id = fields.UUID(required=True)
    published_at = fields.String(required=True, metadata={"description": "RFC 3339."})
    by = fields.String(required=True, allow_none=True)
    note = fields.String(required=True, allow_none=True)
    engine = fields.String(required=True)
    input_sha256 = fields.String(
        required=True, metadata={"description": "Of all that the figures rested on."}
    )
    revision = fields.Integer(
        required=True, metadata={"description": "Of the set-up, or of the campaign."}
    )
    comparable = fields.Boolean(
        required=True, metadata={"description": "False: there are no figures now."}
    )
    reasons = fields.List(
        fields.String(validate=validate.OneOf(["engine", "evidence", "choices"])),
        required=True,
        metadata={"description": "What is no longer as it was then."},
    )
    changed = fields.List(fields.Nested(ChangedSchema), required=True)
    reworded = fields.List(fields.Nested(RewordedSchema), required=True)
    erratum = fields.String(
        required=True, allow_none=True, metadata={"description": "What to tell readers."}
    )


class PublishedSessionSchema(PublicationSchema):
    """The same of a session, with the headline figures that were frozen."""

    figures = fields.Nested(FiguresSchema, required=True, attribute="summary")


class AnswerSchema(Closed):
    """What a campaign said when it was published."""

    name = fields.String(required=True)
    statement = fields.String(required=True)
    verdict = fields.String(required=True, validate=validate.OneOf(get_args(Verdict)))
    cars = fields.Integer(required=True)
    sessions = fields.Integer(required=True)
    left_out = fields.Integer(required=True)
    zero_basis = fields.String(required=True, allow_none=True)
    reserve_end = fields.String(required=True, allow_none=True)


class PublishedCampaignSchema(PublicationSchema):
    """The same of a campaign, with the answer that was frozen."""

    answer = fields.Nested(AnswerSchema, required=True, attribute="summary")


class PublishedSessionsSchema(Closed):
    """Every publication of a session, the last one first."""

    publications = fields.List(fields.Nested(PublishedSessionSchema), required=True)


class PublishedCampaignsSchema(Closed):
    """Every publication of a campaign, the last one first."""

    publications = fields.List(fields.Nested(PublishedCampaignSchema), required=True)


@bp.get("/sessions/<uuid:session_id>/publications")
@bp.arguments(UnitsQuerySchema, location="query")
@bp.response(200, PublishedSessionsSchema)
@bp.refuses(404)
def get_publications(query: dict[str, Any], session_id: UUID) -> dict[str, Any]:
    """What was published of a session, and by how much it is otherwise now."""
    found = of_sessions.publications_of(db.session(), session_id, _units(query))
    return {"publications": found}


@bp.post("/sessions/<uuid:session_id>/publications")
@bp.arguments(RecordSchema)
@bp.response(201, PublishedSessionsSchema)
@bp.refuses(404, 413, 415)
def post_publication(given: dict[str, Any], session_id: UUID) -> dict[str, Any]:
    """Record that what is found now is published: it is frozen."""
    who = _who(given)
    of_sessions.record_publication(db.session(), session_id, who, given["note"], now_ms())
    return {"publications": of_sessions.publications_of(db.session(), session_id, _units())}


@bp.get("/campaigns/<uuid:campaign_id>/publications")
@bp.arguments(UnitsQuerySchema, location="query")
@bp.response(200, PublishedCampaignsSchema)
@bp.refuses(404)
def get_published_campaign(query: dict[str, Any], campaign_id: UUID) -> dict[str, Any]:
    """What was published of a campaign, and by how much it is otherwise now."""
    found = of_campaigns.publications_of(db.session(), campaign_id, _units(query))
    return {"publications": found}


@bp.post("/campaigns/<uuid:campaign_id>/publications")
@bp.arguments(RecordSchema)
@bp.response(201, PublishedCampaignsSchema)
@bp.refuses(404, 409, 413, 415)
def post_published_campaign(given: dict[str, Any], campaign_id: UUID) -> dict[str, Any]:
    """Record that what a campaign says now is published: statement, figures and definition are
    frozen. Refused with 409 while sessions of it are being worked out.
    """
    who = _who(given)
    of_campaigns.record_publication(db.session(), campaign_id, who, given["note"], now_ms())
    return {"publications": of_campaigns.publications_of(db.session(), campaign_id, _units())}


@bp.get("/publications/<uuid:publication_id>")
@bp.response(200, {"type": "object"}, content_type="application/json")
@bp.refuses(404)
def get_frozen(publication_id: UUID) -> Response:
    """The whole document that was frozen: of a session its result, of a campaign the comparison
    with its definition and the hash of each session's evidence.
    """
    return Response(
        frozen(db.session(), publication_id),
        content_type="application/json",
        headers=attachment(f"published-{publication_id}.json"),
    )


@bp.post("/sessions/publish")
@bp.arguments(SeveralSchema)
@bp.response(200, BYTES, content_type="application/zip")
@bp.refuses(413, 415)
def post_several(given: dict[str, Any]) -> Response:
    """Every piece of several sessions in one ZIP, a folder each."""
    who = _who(given)

    def record(session_id: UUID) -> None:
        of_sessions.record_publication(db.session(), session_id, who, given["note"], now_ms())

    parts: Iterator[bytes] = publishing.several_packed(
        db.session(),
        photo_folder(),
        given["session_ids"],
        given["units"],
        record if given["record"] else None,
    )
    return Response(
        stream_with_context(parts),
        content_type="application/zip",
        headers=attachment("sessions.zip"),
    )


def _units(query: dict[str, Any] | None = None) -> Units:
    from ebbline.report.figures import Units

    said = query or {}
    return Units(said.get("units", "km"), said.get("consumption"), said.get("temperature"))


def _who(given: dict[str, Any]) -> str | None:
    person = access.signed_in()
    return person.account.name if person else given["by"]
