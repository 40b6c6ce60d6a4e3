"""What was published of sessions: recording it, and what became of it since."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from uuid import UUID

from flask import Response, stream_with_context
from marshmallow import fields, validate

from ebbline.records.result import Quantity
from ebbline.sessions.results import publishing
from ebbline.sessions.results.publications import (
    Publication,
    publications_of,
    record_publication,
)
from ebbline.wall_clock import now_ms
from ebbline.web import access
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.derived import schema_of
from ebbline.web.api.list_schemas import FiguresSchema
from ebbline.web.api.publish import BYTES, UnitsQuerySchema
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

bp = Blueprint("publications", __name__, url_prefix="/api/sessions", description="Once published")


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
    """A headline figure as published and as it is now."""

    key = fields.String(required=True)
    words = fields.String(required=True)
    dimension = fields.String(required=True)
    old = fields.Nested(schema_of(Quantity), required=True, allow_none=True)
    new = fields.Nested(schema_of(Quantity), required=True, allow_none=True)


class PublicationSchema(Closed):
    """What was published once, frozen, beside what is found now."""

    id = fields.UUID(required=True)
    published_at = fields.String(required=True, metadata={"description": "RFC 3339."})
    by = fields.String(required=True, allow_none=True)
    note = fields.String(required=True, allow_none=True)
    engine = fields.String(required=True)
    input_sha256 = fields.String(required=True)
    setup_revision = fields.Integer(required=True)
    figures = fields.Nested(FiguresSchema, required=True)
    comparable = fields.Boolean(
        required=True, metadata={"description": "False: there are no figures now."}
    )
    reasons = fields.List(
        fields.String(validate=validate.OneOf(["engine", "evidence", "choices"])),
        required=True,
        metadata={"description": "What is no longer as it was then."},
    )
    changed = fields.List(fields.Nested(ChangedSchema), required=True)
    erratum = fields.String(
        required=True, allow_none=True, metadata={"description": "What to tell readers."}
    )


class PublicationsSchema(Closed):
    """Every publication of a session, the last one first."""

    publications = fields.List(fields.Nested(PublicationSchema), required=True)


@bp.get("/<uuid:session_id>/publications")
@bp.arguments(UnitsQuerySchema, location="query")
@bp.response(200, PublicationsSchema)
@bp.refuses(404)
def get_publications(query: dict[str, Any], session_id: UUID) -> dict[str, list[Publication]]:
    """What was published of a session, and by how much it is otherwise now."""
    return _publications(session_id, query)


@bp.post("/<uuid:session_id>/publications")
@bp.arguments(RecordSchema)
@bp.response(201, PublicationsSchema)
@bp.refuses(404, 413, 415)
def post_publication(given: dict[str, Any], session_id: UUID) -> dict[str, list[Publication]]:
    """Record that what is found now is published: it is frozen."""
    record_publication(db.session(), session_id, _who(given), given["note"], now_ms())
    return _publications(session_id, {"units": "km"})


@bp.post("/publish")
@bp.arguments(SeveralSchema)
@bp.response(200, BYTES, content_type="application/zip")
@bp.refuses(413, 415)
def post_several(given: dict[str, Any]) -> Response:
    """Every piece of several sessions in one ZIP, a folder each."""
    who = _who(given)

    def record(session_id: UUID) -> None:
        record_publication(db.session(), session_id, who, given["note"], now_ms())

    parts: Iterator[bytes] = publishing.several_packed(
        db.session(), given["session_ids"], given["units"], record if given["record"] else None
    )
    headers = {"Content-Disposition": 'attachment; filename="sessions.zip"'}
    return Response(stream_with_context(parts), content_type="application/zip", headers=headers)


def _publications(session_id: UUID, query: dict[str, Any]) -> dict[str, list[Publication]]:
    from ebbline.report.figures import Units

    units = Units(query["units"], query.get("consumption"), query.get("temperature", "\u00b0C"))
    return {"publications": publications_of(db.session(), session_id, units)}


def _who(given: dict[str, Any]) -> str | None:
    person = access.signed_in()
    return person.account.name if person else given["by"]
