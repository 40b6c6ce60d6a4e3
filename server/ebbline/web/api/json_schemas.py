"""Our documents described for other programs."""

from __future__ import annotations

from flask import Response

from ebbline.errors import NotFoundError
from ebbline.exchange import json_text
from ebbline.web.api.blueprint import Blueprint

bp = Blueprint("schemas", __name__, url_prefix="/api/schemas", description="JSON Schemas")

SCHEMA_JSON = "application/schema+json"


@bp.get("/<string:name>")
@bp.response(200, {"type": "object"}, content_type=SCHEMA_JSON)
@bp.refuses(404)
def get_schema(name: str) -> Response:
    """The JSON Schema of a document: session, result, comparison or
    published-campaign.
    """
    from ebbline.exchange.json_schema.documents import SCHEMAS

    if name not in SCHEMAS:
        raise NotFoundError(f"there is no schema {name!r}; there are {', '.join(SCHEMAS)}")
    return Response(json_text.dump(SCHEMAS[name]()), content_type=SCHEMA_JSON)
