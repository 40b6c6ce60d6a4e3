"""Accounts of people at the desk. Passwords are kept as argon2id hashes (RFC 9106)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy.orm import Session

from ebbline.errors import InputError
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import access
from ebbline.store.models import AccountRow

LONGEST_NAME, SHORTEST_PASSWORD, LONGEST_PASSWORD = 60, 10, 1000

_hasher = PasswordHasher()  # the library's parameters follow RFC 9106's second recommendation


@dataclass(frozen=True, slots=True)
class Account:
    """One person. ``created_ms`` tells an account from a later one of the same name."""

    name: str
    created_ms: int

    @property
    def created_at(self) -> str:
        """When it was made, RFC 3339."""
        return rfc3339(self.created_ms)


def add_account(db_session: Session, name: str, password: str, now_ms: int) -> Account:
    """Make an account.

    Raises:
        InputError: the name or the password won't do.
        ConflictError: there is an account of that name.
    """
    if not 1 <= len(name) <= LONGEST_NAME or not name.isprintable() or name != name.strip():
        raise InputError("name", f"must be 1 to {LONGEST_NAME} characters without spaces around")
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise InputError(
            "password", f"must have {SHORTEST_PASSWORD} characters or more, up to a thousand"
        )
    row = AccountRow(name=name, password_hash=_hasher.hash(password), created_ms=now_ms)
    access.add_account(db_session, row)
    return Account(name, now_ms)


def remove_account(db_session: Session, name: str) -> None:
    """Remove an account; whoever is signed in with it no longer is.

    Raises:
        NotFoundError: there is none of that name.
    """
    access.remove_account(db_session, name)


def all_accounts(db_session: Session) -> list[Account]:
    """Everybody who may sign in."""
    return [Account(row.name, row.created_ms) for row in access.accounts(db_session)]


def find_account(db_session: Session, name: str) -> Account | None:
    """One account, None when there is none of that name."""
    row = access.account(db_session, name)
    return None if row is None else Account(row.name, row.created_ms)


def sign_in(db_session: Session, name: str, password: str) -> Account | None:
    """The account whose password this is, None otherwise. Takes as long for a name that is not
    there, so that nobody learns names by the clock.
    """
    row = access.account(db_session, name)
    try:
        _hasher.verify(_nobodys_hash() if row is None else row.password_hash, password)
    except (VerificationError, InvalidHashError):
        return None
    return None if row is None else Account(row.name, row.created_ms)


@cache
def _nobodys_hash() -> str:
    return _hasher.hash("a password of no account")
