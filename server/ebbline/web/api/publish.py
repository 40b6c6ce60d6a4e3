"""What is published of a session: report, pictures, film tracks, data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID

from flask import Response
from marshmallow import fields, validate

from ebbline.report.film_options import USUAL_RATE, FilmOptions
from ebbline.report.setting_out import GROUNDS, PAPERS, SettingOut
from ebbline.sessions.files.session_files import export_file
from ebbline.sessions.results import publishing
from ebbline.web.api.attachment import attachment
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.photos import photo_folder
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

if TYPE_CHECKING:
    from ebbline.report.paragraph import ToPaste
    from ebbline.report.subject import Subject

bp = Blueprint("publish", __name__, url_prefix="/api/sessions", description="What is published")

BYTES = {"type": "string", "contentEncoding": "binary"}


class UnitsQuerySchema(Closed):
    """In which units a publication speaks."""

    units = fields.String(load_default="km", validate=validate.OneOf(publishing.UNITS))
    consumption = fields.String(
        validate=validate.OneOf(publishing.CONSUMPTIONS),
        metadata={"description": "Otherwise Wh over the unit of distance."},
    )
    temperature = fields.String(
        validate=validate.OneOf(publishing.TEMPERATURES),
        metadata={"description": "Otherwise \u00b0F beside miles, \u00b0C beside kilometres."},
    )


class SetQuerySchema(UnitsQuerySchema):
    """The same, and how it is set."""

    paper = fields.String(load_default="a4", validate=validate.OneOf(PAPERS))
    ground = fields.String(
        load_default="paper",
        validate=validate.OneOf(GROUNDS),
        metadata={"description": "Pictures as on paper, by night, or by night without ground."},
    )


class PieceQuerySchema(SetQuerySchema):
    """The same, and for a film whose and how often."""

    camera = fields.String(
        validate=validate.Length(1, 200),
        metadata={"description": "As named by the film sync mark; otherwise the first."},
    )
    rate = fields.Float(
        load_default=USUAL_RATE,
        metadata={"description": "Cards and data per second of film."},
    )
    left = fields.Boolean(
        load_default=False,
        metadata={"description": "Captions say what was left, which gives the end away."},
    )


class PieceSchema(Closed):
    """One thing to publish."""

    key = fields.String(required=True)
    file_name = fields.String(required=True)
    title = fields.String(required=True)
    group = fields.String(
        required=True, validate=validate.OneOf(["report", "pictures", "film", "data"])
    )
    media_type = fields.String(required=True)
    camera = fields.String(required=True, allow_none=True)


class CameraSchema(Closed):
    """A film and how it was timed: second of film = moment in seconds + ``offset_s``."""

    name = fields.String(required=True)
    offset_s = fields.Float(required=True)
    half_width_s = fields.Float(required=True, metadata={"description": "95 %."})
    marks = fields.Integer(required=True)
    agree = fields.Boolean(required=True)
    words = fields.String(required=True)


class MissingSchema(Closed):
    """What can't be had of this session, and why."""

    title = fields.String(required=True)
    why = fields.String(required=True)


class OfferSchema(Closed):
    """Everything that can be published of a session."""

    pieces = fields.List(fields.Nested(PieceSchema), required=True)
    cameras = fields.List(fields.Nested(CameraSchema), required=True)
    missing = fields.List(fields.Nested(MissingSchema), required=True)


class ToPasteSchema(Closed):
    """A paragraph ready to paste, in the reader's units."""

    paragraph = fields.String(required=True)
    said_with = fields.List(
        fields.String(),
        required=True,
        metadata={"description": "What must be said with it, a sentence or two each."},
    )


class PagesSchema(Closed):
    """The report's pages, to look at one by one."""

    count = fields.Integer(required=True)


@bp.get("/<uuid:session_id>/publish")
@bp.response(200, OfferSchema)
@bp.refuses(404, 422)
def get_offer(session_id: UUID) -> publishing.Offer:
    """What there is to publish of a session, and what can't be had and why."""
    return publishing.offer(publishing.subject_of(db.session(), session_id, "km"))


@bp.get("/<uuid:session_id>/publish/all")
@bp.arguments(PieceQuerySchema, location="query")
@bp.response(200, BYTES, content_type="application/zip")
@bp.refuses(404)
def get_all(query: dict[str, Any], session_id: UUID) -> Response:
    """The session file and every piece in one ZIP."""
    subject = _subject(query, session_id)
    exported = export_file(db.session(), photo_folder(), session_id)
    return _answer(publishing.everything_packed(subject, exported, _asked(query)))


@bp.get("/<uuid:session_id>/publish/to-paste")
@bp.arguments(SetQuerySchema, location="query")
@bp.response(200, ToPasteSchema)
@bp.refuses(404, 422)
def get_to_paste(query: dict[str, Any], session_id: UUID) -> ToPaste:
    """A paragraph ready to paste, and what must be said with it."""
    return publishing.to_paste(_subject(query, session_id))


@bp.get("/<uuid:session_id>/publish/pages")
@bp.arguments(SetQuerySchema, location="query")
@bp.response(200, PagesSchema)
@bp.refuses(404, 422)
def get_pages(query: dict[str, Any], session_id: UUID) -> dict[str, int]:
    """How many pages the report has."""
    subject = _subject(query, session_id)
    return {"count": publishing.page_count(subject)}


@bp.get("/<uuid:session_id>/publish/pages/<int:page>")
@bp.arguments(SetQuerySchema, location="query")
@bp.response(200, BYTES, content_type="image/png")
@bp.refuses(404)
def get_page(query: dict[str, Any], session_id: UUID, page: int) -> Response:
    """A page of the report, counted from 1, to look at."""
    subject = _subject(query, session_id)
    return Response(publishing.preview(subject, page), content_type="image/png")


@bp.get("/<uuid:session_id>/publish/<piece>")
@bp.arguments(PieceQuerySchema, location="query")
@bp.response(200, BYTES, content_type="*/*")
@bp.refuses(404)
def get_piece(query: dict[str, Any], session_id: UUID, piece: str) -> Response:
    """One piece."""
    subject = _subject(query, session_id)
    return _answer(publishing.publish(subject, piece, query.get("camera"), _asked(query)))


def _asked(query: dict[str, Any]) -> FilmOptions:
    return FilmOptions(query["rate"], query["left"])


def _subject(query: dict[str, Any], session_id: UUID) -> Subject:
    return publishing.subject_of(
        db.session(),
        session_id,
        query["units"],
        query.get("consumption"),
        query.get("temperature"),
        SettingOut(query["paper"], query["ground"]),
    )


def _answer(made: publishing.Made) -> Response:
    text = made.media_type.startswith("text/")
    return Response(
        made.content,
        content_type=f"{made.media_type}; charset=utf-8" if text else made.media_type,
        headers=attachment(made.file_name),
    )
