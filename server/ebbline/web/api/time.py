"""The server's clock, for phones that compare theirs with it."""

from __future__ import annotations

from ebbline.wall_clock import now_ms
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.schemas import TimeSchema

bp = Blueprint("time", __name__, url_prefix="/api/time", description="The server's clock")


@bp.get("")
@bp.response(200, TimeSchema)
def get_time() -> dict[str, int]:
    """What time the server has."""
    return {"server_ms": now_ms()}
