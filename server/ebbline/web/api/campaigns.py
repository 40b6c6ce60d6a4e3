"""Campaigns: saved selections of sessions."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response, jsonify
from marshmallow import fields, post_load, pre_dump, validate

from ebbline.campaigns import definitions, kept
from ebbline.campaigns.definitions import Campaign
from ebbline.campaigns.kept import Line
from ebbline.records.campaign import Definition, SetAside
from ebbline.report.file_name import file_name
from ebbline.wall_clock import now_ms
from ebbline.web.api.attachment import attachment
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.derived import ComparisonSchema
from ebbline.web.api.publish import BYTES, UnitsQuerySchema
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

bp = Blueprint("campaigns", __name__, url_prefix="/api/campaigns", description="Many sessions")

MOST_SESSIONS = 10_000
NAMED = validate.Length(1, 500)


class NotComparedSchema(Closed):
    """A session that was looked at and is not compared."""

    session_id = fields.UUID(required=True)
    why = fields.String(required=True, validate=validate.Length(1, 1000))

    @post_load
    def _record(self, loaded: dict[str, Any], **_kwargs: Any) -> SetAside:
        return SetAside(**loaded)


class DefinitionSchema(Closed):
    """Which sessions are compared, and how; a zero or end of null is each session's own."""

    name = fields.String(required=True, validate=validate.Length(1, 200))
    notes = fields.String(load_default=None, allow_none=True, validate=validate.Length(max=10_000))
    zero_basis = fields.String(
        load_default=None, allow_none=True, validate=validate.OneOf(definitions.ZERO_BASES)
    )
    reserve_end = fields.String(
        load_default=None, allow_none=True, validate=validate.OneOf(definitions.RESERVE_ENDS)
    )
    session_ids = fields.List(
        fields.UUID(), required=True, validate=validate.Length(max=MOST_SESSIONS)
    )
    left_out = fields.List(
        fields.Nested(NotComparedSchema),
        load_default=list,
        validate=validate.Length(max=MOST_SESSIONS),
    )
    tested_by = fields.String(
        load_default=None,
        allow_none=True,
        validate=validate.Length(max=500),
        metadata={"description": "Who drove and recorded."},
    )


class ChangeSchema(DefinitionSchema):
    """A new definition, and the revision it was made from."""

    base = fields.Integer(required=True, strict=True)


class CampaignSchema(DefinitionSchema):
    """A campaign as it stands."""

    id = fields.UUID(required=True)
    revision = fields.Integer(required=True)
    created_at = fields.String(required=True, metadata={"description": "RFC 3339."})
    updated_at = fields.String(required=True, metadata={"description": "RFC 3339."})

    @pre_dump
    def _flat(self, campaign: Campaign, **_kwargs: Any) -> dict[str, Any]:
        return _flat(campaign)


class CampaignLineSchema(CampaignSchema):
    """A campaign in the list, and whether what was published of it still holds."""

    published_at = fields.String(
        required=True, allow_none=True, metadata={"description": "Last, RFC 3339."}
    )
    published_differs = fields.Boolean(
        required=True,
        allow_none=True,
        metadata={
            "description": "Its readers would be told otherwise now. Null where it was not "
            "published, or not compared since its sessions or definition changed."
        },
    )

    @pre_dump
    def _flat(self, line: Line, **_kwargs: Any) -> dict[str, Any]:
        return {
            **_flat(line.campaign),
            "published_at": line.published_at,
            "published_differs": line.published_differs,
        }


class CampaignsSchema(Closed):
    """Every campaign, by name."""

    campaigns = fields.List(fields.Nested(CampaignLineSchema), required=True)


@bp.get("")
@bp.response(200, CampaignsSchema)
def get_campaigns() -> dict[str, list[Line]]:
    """Every campaign, by name. Nothing is compared for it."""
    return {"campaigns": kept.lines_of(db.session())}


@bp.post("")
@bp.arguments(DefinitionSchema)
@bp.response(201, CampaignSchema)
@bp.refuses(413, 415)
def post_campaign(loaded: dict[str, Any]) -> Campaign:
    """Save a selection of sessions as a campaign."""
    return definitions.make_campaign(db.session(), _definition(loaded), now_ms())


@bp.get("/<uuid:campaign_id>")
@bp.response(200, CampaignSchema)
@bp.refuses(404)
def get_campaign(campaign_id: UUID) -> Campaign:
    """One campaign."""
    return definitions.campaign_of(db.session(), campaign_id)


@bp.put("/<uuid:campaign_id>")
@bp.arguments(ChangeSchema)
@bp.response(200, CampaignSchema)
@bp.refuses(404, 409, 413, 415)
def put_campaign(loaded: dict[str, Any], campaign_id: UUID) -> Campaign:
    """Change a campaign's name, notes, definitions or sessions."""
    base = loaded.pop("base")
    return definitions.change_campaign(
        db.session(), campaign_id, base, _definition(loaded), now_ms()
    )


@bp.get("/<uuid:campaign_id>/comparison")
@bp.response(200, ComparisonSchema)
@bp.refuses(404)
def get_comparison(campaign_id: UUID) -> Response:
    """The comparison document of a campaign, by the results kept of its sessions."""
    return jsonify(kept.comparison_of(db.session(), campaign_id))


class PackageQuerySchema(Closed):
    """What is said of a package, and whether session files, with their positions, go with it."""

    licence = fields.String(
        load_default=None,
        validate=validate.Length(1, 500),
        metadata={"description": "An SPDX identifier such as CC-BY-4.0, or an address."},
    )
    contributor = fields.List(fields.String(validate=NAMED), load_default=list)
    source = fields.List(fields.String(validate=NAMED), load_default=list)
    with_sessions = fields.Boolean(load_default=False)


@bp.get("/<uuid:campaign_id>/package")
@bp.arguments(PackageQuerySchema, location="query")
@bp.response(200, BYTES, content_type="application/zip")
@bp.refuses(404, 422)
def get_package(query: dict[str, Any], campaign_id: UUID) -> Response:
    """A campaign as an open data package (Frictionless Data Package), for others to recompute."""
    from ebbline.campaigns.packaging import package_of

    content = package_of(
        db.session(),
        campaign_id,
        licence=query["licence"],
        contributors=tuple(query["contributor"]),
        sources=tuple(query["source"]),
        with_sessions=query["with_sessions"],
    )
    name = file_name(definitions.campaign_of(db.session(), campaign_id).definition.name)
    headers = attachment(f"{name or 'campaign'}.zip")
    return Response(content, content_type="application/zip", headers=headers)


@bp.get("/<uuid:campaign_id>/report")
@bp.arguments(UnitsQuerySchema, location="query")
@bp.response(200, BYTES, content_type="application/pdf")
@bp.refuses(404, 422)
def get_report(query: dict[str, Any], campaign_id: UUID) -> Response:
    """A campaign's report as PDF."""
    from ebbline.campaigns.packaging import report_of
    from ebbline.report.figures import Units

    units = Units(query["units"], query.get("consumption"), query.get("temperature"))
    content = report_of(db.session(), campaign_id, units)
    name = file_name(definitions.campaign_of(db.session(), campaign_id).definition.name)
    headers = attachment(f"{name or 'campaign'}-report.pdf")
    return Response(content, content_type="application/pdf", headers=headers)


@bp.delete("/<uuid:campaign_id>")
@bp.response(200, CampaignSchema)
@bp.refuses(404, 409)
def delete_campaign(campaign_id: UUID) -> Campaign:
    """Delete a campaign, which is handed back; its sessions stay as they are. Refused with 409
    where it was recorded as published.
    """
    return definitions.delete_campaign(db.session(), campaign_id)


def _flat(campaign: Campaign) -> dict[str, Any]:
    definition = campaign.definition
    return {
        **{name: getattr(definition, name) for name in DefinitionSchema._declared_fields},
        "id": campaign.id,
        "revision": campaign.revision,
        "created_at": campaign.created_at,
        "updated_at": campaign.updated_at,
    }


def _definition(loaded: dict[str, Any]) -> Definition:
    return Definition(
        **{
            **loaded,
            "session_ids": tuple(loaded["session_ids"]),
            "left_out": tuple(loaded["left_out"]),
        }
    )
