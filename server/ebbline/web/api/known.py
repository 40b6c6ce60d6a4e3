"""What earlier sessions know, to be proposed in the next."""

from __future__ import annotations

from typing import Any

from marshmallow import fields

from ebbline.sessions.overview.known import Known, known_from
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db

bp = Blueprint("known", __name__, url_prefix="/api/known", description="What to propose")


class KnownCarSchema(Closed):
    """A car by its label, as the latest session that stated anything of it has it."""

    label = fields.String(required=True)
    facts = fields.Dict(
        keys=fields.String(),
        required=True,
        metadata={"description": "By their place in the set-up, e.g. vehicle.pack.usable_kwh."},
    )
    saved_ms = fields.Integer(required=True)


class KnownWarningSchema(Closed):
    """What a car said, and the class that these words were last put into."""

    class Meta(Closed.Meta):
        include: dict[str, Any] = {  # noqa: RUF012  # marshmallow's own way to a keyword's name
            "class": fields.String(required=True, attribute="warning_class")
        }

    text = fields.String(required=True)


class KnownSchema(Closed):
    """Cars and warnings, the latest first."""

    cars = fields.List(fields.Nested(KnownCarSchema), required=True)
    warnings = fields.List(fields.Nested(KnownWarningSchema), required=True)


@bp.get("")
@bp.response(200, KnownSchema)
def get_known() -> Known:
    """What earlier sessions know of cars and of warnings."""
    return known_from(db.session())
