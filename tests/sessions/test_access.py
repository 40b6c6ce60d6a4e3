"""Accounts and phones' keys: nothing that opens anything is stored, and what is shut stays shut."""

from __future__ import annotations

import threading
from uuid import UUID

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.profiles import RFC_9106_LOW_MEMORY
from database_contents import contents
from exchange.documents import ID, T_MS
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.sessions.access.accounts import add_account, all_accounts, remove_account, sign_in
from ebbline.sessions.access.phone_keys import (
    bind_device,
    key_of_token,
    keys_of,
    make_key,
    revoke_key,
)
from ebbline.sessions.records.setups import put_setup
from ebbline.store import access

SESSION_ID = UUID(ID)
OTHER_ID = UUID(int=7)
PASSWORD = "nine lives and one more"


@pytest.fixture
def db_session(db_session: Session) -> Session:
    for session_id in (SESSION_ID, OTHER_ID):
        setup = {"session": {"id": str(session_id)}}
        put_setup(db_session, session_id, None, setup, T_MS)
    return db_session


def test_only_the_right_name_with_the_right_password_signs_in(db_session: Session) -> None:
    made = add_account(db_session, "alex", PASSWORD, T_MS)
    assert sign_in(db_session, "alex", PASSWORD) == made
    for name, password in (
        ("alex", PASSWORD + " "),
        ("alex", ""),
        ("Alex", PASSWORD),
        ("nobody", PASSWORD),
        ("nobody", "a password of no account"),
        ("", ""),
    ):
        assert sign_in(db_session, name, password) is None


def test_a_password_is_nowhere_in_the_database(db_session: Session, engine: Engine) -> None:
    add_account(db_session, "alex", PASSWORD, T_MS)
    add_account(db_session, "kim", PASSWORD, T_MS)
    held = contents(engine)["account"]
    assert PASSWORD not in repr(held)
    assert all(row[1].startswith("$argon2id$") for row in held)
    assert held[0][1] != held[1][1]  # the same password, another salt


def test_what_a_hash_costs_is_the_standards_second_recommendation(
    shipped_hasher: PasswordHasher,
) -> None:
    """RFC 9106, section 4, as argon2-cffi has it."""
    assert extract_parameters(shipped_hasher.hash(PASSWORD)) == RFC_9106_LOW_MEMORY


def test_an_account_is_made_listed_and_removed(db_session: Session) -> None:
    add_account(db_session, "alex", PASSWORD, T_MS)
    with pytest.raises(ConflictError, match="alex"):
        add_account(db_session, "alex", "another password", T_MS)
    (listed,) = all_accounts(db_session)
    assert (listed.name, listed.created_at) == ("alex", "2026-03-02T14:00:00+00:00")
    remove_account(db_session, "alex")
    assert all_accounts(db_session) == []
    assert sign_in(db_session, "alex", PASSWORD) is None
    with pytest.raises(NotFoundError, match="alex"):
        remove_account(db_session, "alex")


WONT_DO = [
    ("", PASSWORD, "name"),
    (" alex", PASSWORD, "name"),
    ("a\x00b", PASSWORD, "name"),
    ("n" * 61, PASSWORD, "name"),
    ("alex", "short", "password"),
    ("alex", "p" * 1001, "password"),
]


def test_a_name_or_password_that_will_not_do_is_refused(db_session: Session) -> None:
    for name, password, where in WONT_DO:
        with pytest.raises(InputError) as refused:
            add_account(db_session, name, password, T_MS)
        assert refused.value.where == where
    assert all_accounts(db_session) == []


def test_a_key_opens_its_session_until_it_is_revoked(db_session: Session) -> None:
    made = make_key(db_session, SESSION_ID, " Phone A ", T_MS)
    assert made.token.startswith(f"{ID}.")
    found = key_of_token(db_session, made.token, T_MS + 5)
    assert found is not None
    assert (found.id, found.session_id, found.label) == (made.id, SESSION_ID, "Phone A")
    assert found.revoked_at is None
    revoked = revoke_key(db_session, SESSION_ID, made.id, T_MS + 1000)
    assert revoked.revoked_at == "2026-03-02T14:00:01+00:00"
    again = revoke_key(db_session, SESSION_ID, made.id, T_MS + 9000)
    assert again == revoked
    shut = key_of_token(db_session, made.token, T_MS + 9000)
    assert shut is not None
    assert shut.revoked_at == revoked.revoked_at
    assert keys_of(db_session, SESSION_ID) == [revoked]
    assert keys_of(db_session, OTHER_ID) == []


def test_a_changed_token_opens_nothing(db_session: Session) -> None:
    token = make_key(db_session, SESSION_ID, "Phone", T_MS).token
    secret = token.partition(".")[2]
    for wrong in (
        token[:-1],
        token + "A",
        token.swapcase(),
        f"{OTHER_ID}.{secret}",
        secret,
        f"{ID}.",
        ID,
        "",
        ".",
        "\u00e9\u0000." + secret,
    ):
        assert key_of_token(db_session, wrong, T_MS) is None


def test_a_token_is_nowhere_in_the_database(db_session: Session, engine: Engine) -> None:
    secret = make_key(db_session, SESSION_ID, "Phone", T_MS).token.partition(".")[2]
    assert secret not in repr(contents(engine)["phone_key"])


def test_use_is_noted_but_not_with_every_call(db_session: Session, engine: Engine) -> None:
    token = make_key(db_session, SESSION_ID, "Phone", T_MS).token

    def used(now_ms: int) -> str | None:
        key_of_token(db_session, token, now_ms)
        return keys_of(db_session, SESSION_ID)[0].last_used_at

    assert keys_of(db_session, SESSION_ID)[0].last_used_at is None
    assert used(T_MS) == used(T_MS + 59_000) == "2026-03-02T14:00:00+00:00"
    assert used(T_MS + 60_000) == "2026-03-02T14:01:00+00:00"


def test_keys_of_one_label_are_told_apart_and_by_what_recorded_with_them(
    db_session: Session,
) -> None:
    long = "x" * 60
    labels = [make_key(db_session, SESSION_ID, label, T_MS).label
              for label in ("Phone", "Phone", "Phone ", long, long)]  # fmt: skip
    assert labels == ["Phone", "Phone (2)", "Phone (3)", long, "x" * 56 + " (2)"]
    assert make_key(db_session, OTHER_ID, "Phone", T_MS).label == "Phone"
    token = make_key(db_session, SESSION_ID, "Scanned twice", T_MS).token
    before = key_of_token(db_session, token, T_MS)
    assert before is not None
    for device, belongs in (("phone-1", True), ("phone-2", False), ("phone-1", True)):
        key = key_of_token(db_session, token, T_MS)
        assert key is not None
        assert bind_device(db_session, key, device) is belongs
    # and who was let through the door before the other one had added
    assert not bind_device(db_session, before, "phone-2")
    held = {key.label: key.devices for key in keys_of(db_session, SESSION_ID)}
    assert held["Scanned twice"] == ("phone-1",)
    assert held["Phone (2)"] == ()


def test_a_key_of_another_session_cannot_be_revoked_there(db_session: Session) -> None:
    made = make_key(db_session, SESSION_ID, "Phone", T_MS)
    with pytest.raises(NotFoundError):
        revoke_key(db_session, OTHER_ID, made.id, T_MS)
    for call in (
        lambda: make_key(db_session, UUID(int=9), "Phone", T_MS),
        lambda: keys_of(db_session, UUID(int=9)),
    ):
        with pytest.raises(NotFoundError):
            call()
    assert keys_of(db_session, SESSION_ID)[0].revoked_at is None


def test_a_label_that_will_not_do_is_refused(db_session: Session) -> None:
    for label in ("", "  ", "x" * 61, "a\x00b"):
        with pytest.raises(InputError, match="label"):
            make_key(db_session, SESSION_ID, label, T_MS)
    assert keys_of(db_session, SESSION_ID) == []


def test_processes_that_start_together_sign_with_one_secret(
    db_session: Session, engine: Engine
) -> None:
    found: list[bytes] = []
    start = threading.Barrier(5)

    def ask() -> None:
        start.wait(20)
        with Session(engine) as own:
            found.append(access.signing_secret(own))

    threads = [threading.Thread(target=ask) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(found) == 5
    assert len(set(found)) == 1
    assert len(found[0]) == 32
