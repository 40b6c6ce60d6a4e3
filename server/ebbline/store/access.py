"""Accounts, keys and the signing secret: reading and changing their rows."""

from __future__ import annotations

import secrets
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, NotFoundError
from ebbline.store.engine import begin_write
from ebbline.store.models import AccountRow, KeyRow, SigningSecretRow
from ebbline.store.sessions import insert_unless_held

SECRET_BYTES = 32


def any_account(db_session: Session) -> bool:
    """Whether anybody has an account here."""
    return db_session.scalar(select(AccountRow.name).limit(1)) is not None


def accounts(db_session: Session) -> list[AccountRow]:
    """Every account by name."""
    return list(db_session.scalars(select(AccountRow).order_by(AccountRow.name)))


def account(db_session: Session, name: str) -> AccountRow | None:
    """One account, None when there is none of that name."""
    return db_session.get(AccountRow, name)


def add_account(db_session: Session, row: AccountRow) -> None:
    """Add an account and commit.

    Raises:
        ConflictError: there is one of that name.
    """
    begin_write(db_session)
    if account(db_session, row.name) is not None:
        db_session.rollback()
        raise ConflictError(f"there is an account {row.name!r} already; remove it first")
    db_session.add(row)
    db_session.commit()


def remove_account(db_session: Session, name: str) -> None:
    """Remove an account and commit.

    Raises:
        NotFoundError: there is none of that name.
    """
    begin_write(db_session)
    row = account(db_session, name)
    if row is None:
        db_session.rollback()
        raise NotFoundError(f"there is no account {name!r}")
    db_session.delete(row)
    db_session.commit()


def keys(db_session: Session, session_id: UUID) -> list[KeyRow]:
    """Every key that was made for a session, the first one first."""
    return list(
        db_session.scalars(
            select(KeyRow)
            .where(KeyRow.session_id == session_id)
            .order_by(KeyRow.created_ms, KeyRow.id)
        )
    )


def add_key(db_session: Session, row: KeyRow) -> None:
    """Add a key, not committed yet."""
    db_session.add(row)


def key(db_session: Session, session_id: UUID, key_id: UUID) -> KeyRow | None:
    """One key of a session, None when it has none of that id."""
    row = db_session.get(KeyRow, key_id)
    return row if row is not None and row.session_id == session_id else None


def key_of(db_session: Session, session_id: UUID, secret_sha256: str) -> KeyRow | None:
    """The key of a session that has this secret, revoked ones included."""
    return db_session.scalar(
        select(KeyRow).where(KeyRow.session_id == session_id, KeyRow.secret_sha256 == secret_sha256)
    )


def signing_secret(db_session: Session) -> bytes:
    """The secret of this database, made when it is first asked for."""
    asked = select(SigningSecretRow.secret)
    if db_session.scalar(asked) is None:
        begin_write(db_session)
        made = {"id": 1, "secret": secrets.token_bytes(SECRET_BYTES)}
        db_session.execute(insert_unless_held(db_session, SigningSecretRow).values(made))
        db_session.commit()
    return db_session.scalars(asked).one()
