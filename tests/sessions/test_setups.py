"""Making sessions and revising their set-ups."""

from __future__ import annotations

import threading
from typing import Any
from uuid import UUID

import pytest
from database_contents import contents
from exchange.documents import ID, T_MS
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.sessions.records.setups import current_setup, put_setup, revisions
from ebbline.store import setups

SESSION_ID = UUID(ID)


def setup(**more: Any) -> dict[str, Any]:
    return {"session": {"id": ID, "title": "First"}, "own": [1, 2.5, None], **more}


def put(db_session: Session, base: int | None, content: dict[str, Any]) -> int:
    return put_setup(db_session, SESSION_ID, base, content, T_MS).revision


def test_every_revision_is_kept_and_the_last_is_current(db_session: Session) -> None:
    assert put(db_session, None, setup()) == 1
    assert put(db_session, 1, setup(vehicle={"label": "Car A"})) == 2
    assert put(db_session, 2, setup()) == 3
    held = setups.revisions(db_session, SESSION_ID)
    assert [row.document for row in held] == [
        setup(),
        setup(vehicle={"label": "Car A"}),
        setup(),
    ]
    assert current_setup(db_session, SESSION_ID).setup == setup()


@pytest.mark.parametrize("base", [None, 1, 7])
def test_the_current_content_again_changes_nothing_whatever_its_base(
    db_session: Session, engine: Engine, base: int | None
) -> None:
    put(db_session, None, setup())
    before = contents(engine)
    assert put(db_session, base, setup()) == 1
    assert contents(engine) == before


@pytest.mark.parametrize("base", [None, 1, 3])
def test_a_stale_base_is_refused_with_what_is_held(
    db_session: Session, engine: Engine, base: int | None
) -> None:
    put(db_session, None, setup())
    put(db_session, 1, setup(second=True))
    before = contents(engine)
    with pytest.raises(ConflictError) as refusal:
        put(db_session, base, setup(mine=True))
    assert refusal.value.held == {"revision": 2, "setup": setup(second=True)}
    assert contents(engine) == before


def test_a_base_for_a_session_that_is_not_there_is_refused(
    db_session: Session, engine: Engine
) -> None:
    with pytest.raises(NotFoundError):
        put(db_session, 4, setup())
    assert contents(engine)["session"] == []


@pytest.mark.parametrize(
    ("content", "where"),
    [
        ({"session": {"id": str(UUID(int=1))}}, "setup.session.id"),
        ({"session": {"title": "no id"}}, "setup.session.id"),
        ({**setup(), "vehicle": {"pack": {"usable_kwh": -1}}}, "setup.vehicle.pack.usable_kwh"),
        ({**setup(), "events": []}, "setup.events"),
        ([], "setup"),
    ],
)
def test_a_malformed_set_up_names_the_place(
    db_session: Session, engine: Engine, content: Any, where: str
) -> None:
    with pytest.raises(InputError) as refusal:
        put(db_session, None, content)
    assert refusal.value.where == where
    assert contents(engine)["session"] == []


def test_of_different_revisions_at_once_exactly_one_wins(
    db_session: Session, engine: Engine
) -> None:
    put(db_session, None, setup())
    outcomes = at_once(engine, 1, [setup(mine=n) for n in range(6)])
    assert outcomes.count(2) == 1
    assert outcomes.count("conflict") == 5


def test_one_session_made_many_times_at_once_is_made_once(engine: Engine) -> None:
    assert at_once(engine, None, [setup()] * 6) == [1] * 6
    assert len(contents(engine)["setup_revision"]) == 1


def at_once(engine: Engine, base: int | None, offers: list[dict[str, Any]]) -> list[Any]:
    start = threading.Barrier(len(offers))
    outcomes: list[Any] = []

    def offer(content: dict[str, Any]) -> None:
        start.wait(20)
        with Session(engine) as db_session:
            try:
                outcomes.append(put(db_session, base, content))
            except ConflictError:
                outcomes.append("conflict")

    threads = [threading.Thread(target=offer, args=(content,)) for content in offers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return outcomes


def test_every_revision_is_told_with_its_moment(db_session: Session) -> None:
    put(db_session, None, {"session": {"id": ID, "title": "one"}})
    put_setup(db_session, SESSION_ID, 1, {"session": {"id": ID, "title": "two"}}, 1_772_460_000_500)
    told = revisions(db_session, SESSION_ID)
    assert [(r.revision, r.setup["session"]["title"]) for r in told] == [(1, "one"), (2, "two")]
    assert told[1].saved_at == "2026-03-02T14:00:00.500000+00:00"
