"""Sessions: making them, adding to them, seeing what they hold."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from ebbline.sessions.overview.contents import Contents, contents_of, set_archived
from ebbline.sessions.records.counts import counts_of_device
from ebbline.sessions.records.setups import Revision, put_setup, revisions
from ebbline.sessions.records.uploads import Upload, store_records
from ebbline.wall_clock import now_ms
from ebbline.web import access
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.schemas import (
    ArchivedSchema,
    ReceiptSchema,
    RecordedSchema,
    RevisionsSchema,
    SetupChangeSchema,
    SetupRevisionSchema,
    UploadSchema,
)
from ebbline.web.db import db

bp = Blueprint("sessions", __name__, url_prefix="/api/sessions", description="Field sessions")


@bp.get("/<uuid:session_id>")
@bp.response(200, RecordedSchema)
@bp.refuses(404)
def get_session(session_id: UUID) -> Contents:
    """Everything one session holds but its fixes."""
    return contents_of(db.session(), session_id)


@bp.put("/<uuid:session_id>")
@bp.arguments(SetupChangeSchema)
@bp.response(200, SetupRevisionSchema)
@bp.refuses(404, 409, 413, 415)
def put_session(change: dict[str, Any], session_id: UUID) -> dict[str, Any]:
    """Make a session, or revise its set-up; the same content again changes nothing."""
    now = put_setup(db.session(), session_id, change["base"], change["setup"], now_ms())
    return {"id": session_id, "revision": now.revision, "setup": now.setup}


@bp.get("/<uuid:session_id>/revisions")
@bp.response(200, RevisionsSchema)
@bp.refuses(404)
def get_revisions(session_id: UUID) -> dict[str, list[Revision]]:
    """Every revision of the set-up, the first one first."""
    return {"revisions": revisions(db.session(), session_id)}


@bp.put("/<uuid:session_id>/archived")
@bp.arguments(ArchivedSchema)
@bp.response(200, ArchivedSchema)
@bp.refuses(404, 413, 415)
def put_archived(wanted: dict[str, bool], session_id: UUID) -> dict[str, bool]:
    """Put a session away, or take it out again; nothing of it changes."""
    set_archived(db.session(), session_id, wanted["archived"], now_ms())
    return wanted


@bp.post("/<uuid:session_id>/records")
@bp.arguments(UploadSchema)
@bp.response(200, ReceiptSchema)
@bp.refuses(403, 404, 409, 413, 415)
def post_records(upload: dict[str, Any], session_id: UUID) -> dict[str, Any]:
    """Add records; sending the same again changes nothing."""
    device = upload["device"]
    with_key = access.adds_for(device)
    receipt = store_records(
        db.session(),
        session_id,
        Upload(
            upload["events"],
            upload["readings"],
            upload["breadcrumbs"],
            upload["clock_checks"],
            bool(upload.get("sole")),
            only_of=device if with_key else None,
        ),
        now_ms(),
    )
    return {
        "server_ms": now_ms(),
        "held": receipt.held(),
        "refused": receipt.refused,
        "holds": counts_of_device(db.session(), session_id, device),
    }
