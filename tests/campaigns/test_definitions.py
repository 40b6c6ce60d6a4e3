"""Campaigns: saved, changed by one at a time, and never with a session that isn't there."""

from __future__ import annotations

from dataclasses import replace
from uuid import UUID

import pytest
from exchange.documents import T_MS
from sqlalchemy.orm import Session

from ebbline.campaigns.definitions import (
    campaign_of,
    campaigns_of,
    change_campaign,
    delete_campaign,
    make_campaign,
)
from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.records.campaign import Definition, SetAside
from ebbline.sessions.records.setups import put_setup

A, B, NOBODYS = UUID(int=1), UUID(int=2), UUID(int=9)
WINTER = Definition("Winter", "cold", "zero_range", "contactors_open", (A,), (SetAside(B, "wet"),))


@pytest.fixture
def db_session(db_session: Session) -> Session:
    for session_id in (A, B):
        put_setup(db_session, session_id, None, {"session": {"id": str(session_id)}}, T_MS)
    return db_session


def test_what_was_saved_comes_back_and_the_list_is_by_name(db_session: Session) -> None:
    winter = make_campaign(db_session, WINTER, T_MS)
    autumn = make_campaign(db_session, Definition("Autumn"), T_MS)
    assert campaign_of(db_session, winter.id).definition == WINTER
    assert [one.id for one in campaigns_of(db_session)] == [autumn.id, winter.id]


def test_of_two_changes_from_one_revision_the_second_is_refused(db_session: Session) -> None:
    made = make_campaign(db_session, WINTER, T_MS)
    more = replace(WINTER, session_ids=(A, B), left_out=())
    assert change_campaign(db_session, made.id, 1, more, T_MS + 1).revision == 2
    with pytest.raises(ConflictError, match="revision 2"):
        change_campaign(db_session, made.id, 1, WINTER, T_MS + 2)
    assert campaign_of(db_session, made.id).definition == more


@pytest.mark.parametrize(
    ("definition", "message"),
    [
        (Definition("x", session_ids=(A, NOBODYS)), r"session_ids\[1\]: there is no session"),
        (Definition("x", session_ids=(A, A)), r"session_ids\[1\]: .* second time"),
        (replace(WINTER, left_out=(SetAside(A, "wet"),)), r"left_out\[0\]\.session_id: .* second"),
        (Definition("x\x00"), "name: a NUL"),
    ],
)
def test_a_definition_that_cannot_be_is_refused_by_place(
    db_session: Session, definition: Definition, message: str
) -> None:
    made = make_campaign(db_session, WINTER, T_MS)
    with pytest.raises(InputError, match=message):
        make_campaign(db_session, definition, T_MS)
    with pytest.raises(InputError, match=message):
        change_campaign(db_session, made.id, 1, definition, T_MS)
    assert [one.definition for one in campaigns_of(db_session)] == [WINTER]


def test_a_deleted_campaign_is_gone_and_its_sessions_are_not(db_session: Session) -> None:
    made = make_campaign(db_session, WINTER, T_MS)
    assert delete_campaign(db_session, made.id) == made
    assert campaigns_of(db_session) == []
    for ask in (campaign_of, delete_campaign):
        with pytest.raises(NotFoundError):
            ask(db_session, made.id)
    make_campaign(db_session, WINTER, T_MS)  # which names sessions that are there
