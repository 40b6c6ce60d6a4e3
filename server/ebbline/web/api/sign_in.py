"""Signing in and out at the desk."""

from __future__ import annotations

import math
import time

import flask_login
from flask import current_app, request
from limits import RateLimitItem, parse
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter
from marshmallow import fields, validate
from werkzeug.exceptions import TooManyRequests, Unauthorized

from ebbline.sessions.access.accounts import sign_in
from ebbline.web import access
from ebbline.web.api.blueprint import Blueprint
from ebbline.web.api.schemas import Closed
from ebbline.web.db import db
from ebbline.web.errors import refusal

bp = Blueprint("sign-in", __name__, url_prefix="/api", description="Who is at the desk")

# Failed attempts. Per process: several behind one address let through as many times more, and
# each attempt costs argon2's time besides.
FROM_ONE_ADDRESS, FOR_ONE_NAME = parse("10 per 10 minutes"), parse("50 per hour")


class SignInSchema(Closed):
    """A name and its password."""

    name = fields.String(required=True, validate=validate.Length(1, 200))
    password = fields.String(required=True, validate=validate.Length(1, 1000))


class MeSchema(Closed):
    """Who is signed in, and whether anybody has to be."""

    name = fields.String(required=True, allow_none=True)
    open = fields.Boolean(
        required=True, metadata={"description": "Nobody has to sign in on this server."}
    )


class Attempts:
    """How often signing in has failed, by address and by name."""

    def __init__(self) -> None:
        self._limiter = MovingWindowRateLimiter(MemoryStorage())

    def wait_s(self, address: str, name: str) -> int:
        """How long until another attempt may be made; 0: now."""
        free_at = [
            self._limiter.get_window_stats(limit, *key).reset_time
            for limit, key in self._keys(address, name)
            if not self._limiter.test(limit, *key)
        ]
        return max(1, math.ceil(max(free_at) - time.time())) if free_at else 0

    def failed(self, address: str, name: str) -> None:
        """Count one."""
        for limit, key in self._keys(address, name):
            self._limiter.hit(limit, *key)

    def _keys(self, address: str, name: str) -> list[tuple[RateLimitItem, tuple[str, str]]]:
        return [(FROM_ONE_ADDRESS, ("address", address)), (FOR_ONE_NAME, ("name", name))]


@bp.get("/me")
@bp.response(200, MeSchema)
def get_me() -> dict[str, object]:
    """Who is signed in here."""
    person = access.signed_in()
    return {"name": person.account.name if person else None, "open": access.is_open()}


@bp.post("/sign-in")
@bp.arguments(SignInSchema)
@bp.response(200, MeSchema)
@bp.refuses(401, 403, 413, 415, 429)
def post_in(given: dict[str, str]) -> dict[str, object]:
    """Sign in: sets a cookie that other sites' pages can't send."""
    attempts: Attempts = current_app.extensions["ebbline.attempts"]
    address = request.remote_addr or ""
    wait_s = attempts.wait_s(address, given["name"])
    if wait_s:
        minutes = math.ceil(wait_s / 60)
        unit = "minute" if minutes == 1 else "minutes"
        message = f"Too many attempts failed. Wait {minutes} {unit}."
        refused = refusal(TooManyRequests, "too_often", message)
        refused.retry_after = wait_s  # type: ignore[attr-defined]  # TooManyRequests has it
        raise refused
    account = sign_in(db.session(), given["name"], given["password"])
    if account is None:
        attempts.failed(address, given["name"])
        raise refusal(
            Unauthorized, "wrong_password", "This name and this password don't belong together."
        )
    flask_login.login_user(access.Person(account))
    return {"name": account.name, "open": False}


@bp.post("/sign-out")
@bp.response(200, MeSchema)
@bp.refuses(403, 415)
def post_out() -> dict[str, object]:
    """Sign out on this browser."""
    flask_login.logout_user()
    return {"name": None, "open": access.is_open()}
