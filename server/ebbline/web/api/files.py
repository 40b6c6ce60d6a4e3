"""Sessions as files, in and out."""

from __future__ import annotations

from uuid import UUID

from flask import Response, request

from ebbline.exchange.session_file import MAX_ARCHIVE_BYTES, MAX_FILE_BYTES
from ebbline.sessions.files.session_files import ImportedSession, export_file, import_file
from ebbline.sessions.overview.renewal import work_out
from ebbline.sessions.results.exports import export_csv, export_gpx
from ebbline.wall_clock import now_ms
from ebbline.web.api.blueprint import Blueprint, body
from ebbline.web.api.photos import photo_folder
from ebbline.web.api.schemas import ImportedSchema, SessionFileSchema
from ebbline.web.db import db

bp = Blueprint("files", __name__, url_prefix="/api/sessions", description="Sessions as files")


TEXT = {"type": "string"}
BYTES = {"type": "string", "contentEncoding": "binary"}


@bp.post("/import")
@bp.doc(
    requestBody={
        "required": True,
        "content": {
            "application/json": {"schema": SessionFileSchema},
            "application/zip": {"schema": BYTES},
        },
    }
)
@bp.response(201, ImportedSchema, description="Something was new.")
@bp.alt_response(200, schema=ImportedSchema, description="All of it was here before.", success=True)
@bp.refuses(409, 413, 415, 422)
def post_import() -> tuple[ImportedSession, int]:
    """Take in a session file, all of it or nothing."""
    packed = request.mimetype == "application/zip"
    request.max_content_length = MAX_ARCHIVE_BYTES if packed else MAX_FILE_BYTES
    done = import_file(db.session(), photo_folder(), body(), now_ms())
    work_out(db.session(), done.id)  # so that no list has to wait for it
    return done, 201 if done.changed else 200


@bp.get("/<uuid:session_id>/file")
@bp.response(200, SessionFileSchema)
@bp.alt_response(200, schema=BYTES, content_type="application/zip", success=True)
@bp.refuses(404)
def get_file(session_id: UUID) -> Response:
    """The session as a file: JSON, or a ZIP when there are photos."""
    exported = export_file(db.session(), photo_folder(), session_id)
    kind = "application/zip" if exported.is_archive else "application/json"
    return _download(exported.content, kind, f"{session_id}.{exported.ending}")


@bp.get("/<uuid:session_id>/gpx")
@bp.response(200, TEXT, content_type="application/gpx+xml")
@bp.refuses(404)
def get_gpx(session_id: UUID) -> Response:
    """The track and its events as GPX 1.1."""
    text = export_gpx(db.session(), session_id)
    return _download(text.encode(), "application/gpx+xml", f"{session_id}.gpx")


@bp.get("/<uuid:session_id>/csv")
@bp.response(200, TEXT, content_type="text/csv")
@bp.refuses(404, 422)
def get_csv(session_id: UUID) -> Response:
    """The derived curves as CSV."""
    text = export_csv(db.session(), session_id)
    return _download(text.encode(), "text/csv; charset=utf-8", f"{session_id}.csv")


def _download(content: bytes, media_type: str, name: str) -> Response:
    return Response(
        content,
        content_type=media_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
