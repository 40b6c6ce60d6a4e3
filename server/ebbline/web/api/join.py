"""Letting phones in, and shutting them out."""

from __future__ import annotations

import io
from typing import Any
from uuid import UUID

import segno
from flask import current_app, request
from marshmallow import fields, validate
from werkzeug.exceptions import Unauthorized

from ebbline.address import Address
from ebbline.exchange.schemas import SetupSchema
from ebbline.sessions.access.phone_keys import LONGEST_LABEL, Key, keys_of, make_key, revoke_key
from ebbline.sessions.records.setups import current_setup
from ebbline.wall_clock import now_ms
from ebbline.web import access
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.schemas import AsItCame, Closed
from ebbline.web.db import db
from ebbline.web.errors import refusal

bp = Blueprint("join", __name__, url_prefix="/api", description="Phones' keys")


LOOKS = {"description": "Follows the run and adds nothing; else it records."}


class WantedKeySchema(Closed):
    """What the people at the desk call a phone, and what it is to do."""

    label = fields.String(required=True, validate=validate.Length(1, LONGEST_LABEL))
    looks = fields.Boolean(load_default=False, metadata=LOOKS)


class NewKeySchema(Closed):
    """A key just made. Its token is told this once; addresses hold it behind the '#', which no
    browser sends anywhere.
    """

    id = fields.UUID(required=True)
    label = fields.String(required=True)
    looks = fields.Boolean(required=True, metadata=LOOKS)
    token = fields.String(required=True)
    url = fields.String(
        required=True, metadata={"description": "Opens the phone's or the follow page with it."}
    )
    qr_svg = fields.String(required=True, metadata={"description": "The same, to be scanned."})
    only_here = fields.Boolean(
        required=True,
        metadata={"description": "Only this server's own machine can open the address."},
    )


class KeySchema(Closed):
    """What is known of a key; times are RFC 3339."""

    id = fields.UUID(required=True)
    label = fields.String(required=True)
    looks = fields.Boolean(required=True, metadata=LOOKS)
    created_at = fields.String(required=True)
    last_used_at = fields.String(required=True, allow_none=True)
    revoked_at = fields.String(required=True, allow_none=True)
    devices = fields.List(
        fields.String(),
        required=True,
        metadata={"description": "The phone that it belongs to since its first record."},
    )


class KeysSchema(Closed):
    """Every key made for a session, the first one first."""

    keys = fields.List(fields.Nested(KeySchema), required=True)


class JoinSchema(Closed):
    """What a key opens."""

    session_id = fields.UUID(required=True)
    revision = fields.Integer(required=True)
    setup = AsItCame(SetupSchema, required=True)
    label = fields.String(required=True)


@bp.get("/sessions/<uuid:session_id>/keys")
@bp.response(200, KeysSchema)
@bp.refuses(404)
def get_keys(session_id: UUID) -> dict[str, list[Key]]:
    """Every key made for a session, revoked ones too."""
    return {"keys": keys_of(db.session(), session_id)}


@bp.post("/sessions/<uuid:session_id>/keys")
@bp.arguments(WantedKeySchema)
@bp.response(201, NewKeySchema)
@bp.refuses(404, 413, 415)
def post_key(given: dict[str, Any], session_id: UUID) -> dict[str, Any]:
    """Make a key for a phone that records, or for somebody who follows. A label that another key
    of the session has gets a number.
    """
    looks = given["looks"]
    made = make_key(db.session(), session_id, given["label"], now_ms(), looks=looks)
    url = _public_url(f"{'follow' if looks else 'capture'}#join={made.token}")
    return {
        "id": made.id,
        "label": made.label,
        "looks": made.looks,
        "token": made.token,
        "url": url,
        "qr_svg": _qr_svg(url),
        "only_here": _address().only_here,
    }


@bp.delete("/sessions/<uuid:session_id>/keys/<uuid:key_id>")
@bp.response(200, KeySchema)
@bp.refuses(404)
def delete_key(session_id: UUID, key_id: UUID) -> Key:
    """Shut a phone out. What it has sent stays."""
    return revoke_key(db.session(), session_id, key_id, now_ms())


@bp.get("/join")
@bp.doc(security=[{"key": []}])
@bp.response(200, JoinSchema)
@bp.refuses(401)
def get_join() -> dict[str, Any]:
    """The session that the key in ``Authorization: Bearer`` opens."""
    key = access.key_shown()
    if key is None:
        raise refusal(Unauthorized, "key_missing", "Scan the code at the desk first.")
    setup = current_setup(db.session(), key.session_id)
    return {
        "session_id": key.session_id,
        "revision": setup.revision,
        "setup": setup.setup,
        "label": key.label,
    }


def _public_url(path: str) -> str:
    return f"{_address().public_url or request.host_url.rstrip('/')}/{path}"


def _address() -> Address:
    found: Address = current_app.extensions["ebbline.address"]
    return found


def _qr_svg(url: str) -> str:
    text = io.BytesIO()
    segno.make(url, error="m", micro=False).save(text, kind="svg", xmldecl=False, scale=6, border=4)
    return text.getvalue().decode()
