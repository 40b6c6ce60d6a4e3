"""What goes over the wire of the list of sessions."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, validate

from ebbline.records.result import Quantity
from ebbline.sessions.overview.search import SORT_KEYS
from ebbline.sessions.results.headlines import HEADLINES
from ebbline.web.api.derived import schema_of
from ebbline.web.api.schemas import Closed

OUTCOMES = ("past zero", "before zero", "no drive")
MOST_LINES = 1000
MOST_IDS = 10_000


class SearchSchema(Closed):
    """Which sessions; what is absent or empty asks for nothing."""

    text = fields.String(metadata={"description": "Words that must all be found in it."})
    vehicle = fields.String(metadata={"description": "Part of the vehicle's label."})
    course = fields.String(metadata={"description": "Part of the course's label."})
    first_day = fields.Date(data_key="from", metadata={"description": "Started that day or later."})
    last_day = fields.Date(data_key="to", metadata={"description": "Started that day or earlier."})
    outcome = fields.String(validate=validate.OneOf(OUTCOMES))
    published = fields.String(
        validate=validate.OneOf(["no", "yes", "differs"]),
        metadata={"description": "'differs': with other figures than there are now."},
    )
    campaign = fields.UUID(metadata={"description": "Only its sessions, those left out too."})
    archived = fields.String(load_default="no", validate=validate.OneOf(["no", "yes", "all"]))


class WantedSchema(SearchSchema):
    """A part of the list. What isn't known comes last, but for the latest starts first, where
    sessions not begun yet come before all others.
    """

    sort = fields.String(load_default="started", validate=validate.OneOf(SORT_KEYS))
    order = fields.String(
        validate=validate.OneOf(["asc", "desc"]),
        metadata={"description": "Otherwise descending by time started, ascending by others."},
    )
    limit = fields.Integer(load_default=100, validate=validate.Range(1, MOST_LINES))
    offset = fields.Integer(load_default=0, validate=validate.Range(0, 2**53))


class TableSchema(SearchSchema):
    """Sessions for a table: those chosen, or all that are found otherwise."""

    session_ids = fields.List(fields.UUID(), validate=validate.Length(1, MOST_IDS))


def _figure() -> fields.Field[Any]:
    return fields.Nested(schema_of(Quantity), required=True, allow_none=True)


FiguresSchema = Schema.from_dict(
    {
        **{headline.key: _figure() for headline in HEADLINES},
        "zero_basis": fields.String(required=True, allow_none=True),
        "reserve_end": fields.String(required=True, allow_none=True),
        "distance_basis": fields.String(required=True, allow_none=True),
        "outcome": fields.String(required=True, allow_none=True, validate=validate.OneOf(OUTCOMES)),
        "doubts": fields.Integer(required=True),
        "errors": fields.Integer(required=True),
    },
    name="HeadlineFiguresSchema",
)


class OverviewSchema(Closed):
    """One line of the list. Events and readings counted are those that stand. Figures are null
    where there never were any; where not ``worked_out`` they are of before something changed.
    """

    id = fields.UUID(required=True)
    title = fields.String(required=True, allow_none=True)
    started_at = fields.String(required=True, allow_none=True)
    vehicle_label = fields.String(required=True, allow_none=True)
    course_label = fields.String(required=True, allow_none=True)
    event_count = fields.Integer(required=True)
    reading_count = fields.Integer(required=True)
    fix_count = fields.Integer(required=True)
    outcome = fields.String(required=True, allow_none=True, validate=validate.OneOf(OUTCOMES))
    figures = fields.Nested(FiguresSchema, required=True, allow_none=True)
    updated_at = fields.String(required=True)
    archived = fields.Boolean(required=True)
    worked_out = fields.Boolean(
        required=True, metadata={"description": "False: ask for renewals, or for its result."}
    )
    engine = fields.String(
        required=True, allow_none=True, metadata={"description": "What found the figures."}
    )
    failure = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "Why it can't be worked out from the evidence as it stands."},
    )
    published_at = fields.String(
        required=True, allow_none=True, metadata={"description": "Last; RFC 3339."}
    )
    published_differs = fields.Boolean(
        required=True,
        allow_none=True,
        metadata={"description": "Whether the figures are no longer those published last."},
    )


class ListingSchema(Closed):
    """A part of the list, and of how many."""

    sessions = fields.List(fields.Nested(OverviewSchema), required=True)
    total = fields.Integer(required=True, metadata={"description": "Sessions found in all."})
    behind = fields.Integer(
        required=True, metadata={"description": "Of them, with figures of before or none yet."}
    )


class LabelsSchema(Closed):
    """The vehicles and courses there are, each by name."""

    vehicles = fields.List(fields.String(), required=True)
    courses = fields.List(fields.String(), required=True)


class RenewSchema(Closed):
    """Which sessions somebody looks at, so that theirs come first."""

    first = fields.List(fields.UUID(), load_default=list, validate=validate.Length(max=MOST_LINES))


class RenewedSchema(Closed):
    """How many sessions were worked out just now, and how many are left."""

    done = fields.Integer(required=True)
    left = fields.Integer(required=True)
