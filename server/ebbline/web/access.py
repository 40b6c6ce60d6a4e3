"""Who may call what: people by their cookie, phones by their key.

Open to everybody is only a server that this machine alone reaches and for which nobody made an
account. A key opens few calls and one session, wherever it is shown. ``access_table`` says which
routes are whose.
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlsplit

import flask_login
from flask import Flask, current_app, g, redirect, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import Forbidden, Unauthorized
from werkzeug.urls import iri_to_uri

from ebbline.address import Address
from ebbline.sessions.access.accounts import Account, find_account
from ebbline.sessions.access.phone_keys import Key, bind_device, key_of_token
from ebbline.store import access
from ebbline.wall_clock import now_ms
from ebbline.web import door
from ebbline.web.access_table import ACCESS, ANYBODY, LOOKING_KEY, PHONES_KEY
from ebbline.web.db import db
from ebbline.web.errors import refusal


@dataclass(frozen=True, slots=True)
class Person(flask_login.UserMixin):  # type: ignore[misc]  # it has no types
    """Somebody signed in."""

    account: Account

    def get_id(self) -> str:
        """What the cookie names: an account made anew under the same name is another one."""
        return f"{self.account.created_ms} {self.account.name}"


def register(app: Flask, address: Address) -> None:
    """Put the guard into an application. Its cookie is signed with the database's own secret."""
    with app.app_context():
        app.secret_key = access.signing_secret(db.session())
        db.session.remove()
    app.config.update(
        SESSION_COOKIE_NAME="ebbline_desk",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_COOKIE_SECURE=address.secure,
    )
    app.extensions["ebbline.address"] = address
    people = flask_login.LoginManager(app)
    people.session_protection = None  # an address that changes on the way is common on a phone
    people.user_loader(_person)
    app.before_request(_refuse_foreign_pages)
    app.before_request(_guard)


def is_open() -> bool:
    """Whether everything is open to everybody who reaches this server."""
    return not _address().others and not access.any_account(db.session())


def signed_in() -> Person | None:
    """Who is signed in on this request."""
    person = flask_login.current_user
    return person._get_current_object() if person.is_authenticated else None


def key_shown() -> Key | None:
    """The key that this request showed and that was found good."""
    key: Key | None = g.get("ebbline_key")
    return key


def adds_for(device: str) -> bool:
    """Whether what is sent comes with a phone's key, which then has to be that device's.

    Raises:
        Forbidden: the key is another phone's.
    """
    key = key_shown()
    if key is not None and not bind_device(db.session(), key, device):
        raise refusal(
            Forbidden,
            "key_of_another",
            "This code belongs to another phone. Everything stays on this phone; "
            "scan a code of its own at the desk to send it.",
        )
    return key is not None


def _address() -> Address:
    found: Address = current_app.extensions["ebbline.address"]
    return found


def _person(cookie_id: str) -> Person | None:
    created_ms, _, name = cookie_id.partition(" ")
    account = find_account(db.session(), name)
    return Person(account) if account and str(account.created_ms) == created_ms else None


def _refuse_foreign_pages() -> None:
    """Browsers say from which page a call comes (Fetch Metadata; Origin): another site's never
    writes here, whatever cookies go with it.
    """
    if request.method not in door.WRITING:
        return
    origin = request.headers.get("Origin")
    elsewhere = origin is not None and urlsplit(origin).netloc != request.host
    if elsewhere or request.headers.get("Sec-Fetch-Site", "same-origin") not in (
        "same-origin",
        "none",
    ):
        raise refusal(Forbidden, "foreign_page", "This was sent by a page of another site.")


def _guard() -> ResponseReturnValue | None:
    shown = request.authorization
    api = request.path.startswith("/api/")
    if shown is not None and api:
        _guard_key(shown.token if shown.type == "bearer" else None)
        return None
    desk = request.endpoint == "pages.page" and (request.view_args or {}).get("page") == "desk"
    if not (api or desk) or is_open() or signed_in():
        return None  # what anybody may have asks neither database nor cookie
    if desk:
        return redirect(f"/sign-in#{iri_to_uri(request.full_path.rstrip('?'))}")
    if ANYBODY not in ACCESS.get(request.endpoint, ()):
        raise refusal(Unauthorized, "sign_in", "Sign in first.")
    return None


def _guard_key(token: str | None) -> None:
    key = None if token is None else key_of_token(db.session(), token, now_ms())
    if key is None:
        raise refusal(
            Unauthorized,
            "key_unknown",
            "This server does not know the phone's key. Everything stays on the phone; "
            "scan the code at the desk again.",
        )
    if key.revoked_at is not None:
        raise refusal(
            Unauthorized,
            "key_revoked",
            "The desk has shut this phone out. Everything stays on the phone; "
            "scan a new code at the desk to send it.",
        )
    session_id = (request.view_args or {}).get("session_id", key.session_id)
    callers = ACCESS.get(request.endpoint, ())
    if key.looks and LOOKING_KEY not in callers:
        raise refusal(
            Forbidden,
            "only_looks",
            "This code only follows the run. Ask the desk for one that records.",
        )
    if (LOOKING_KEY if key.looks else PHONES_KEY) not in callers or session_id != key.session_id:
        raise refusal(
            Forbidden,
            "not_for_phones",
            "A phone's key can only add to the session it was made for, and read its records.",
        )
    g.ebbline_key = key
