"""Finding sessions, and putting them away."""

from __future__ import annotations

import csv
import io
from datetime import date
from typing import Any
from uuid import UUID

import pytest
from database_contents import contents
from exchange.documents import T_MS
from rules.cases import STANDING, event, reading
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.errors import MeasureError, NotFoundError
from ebbline.sessions.overview import listing, renewal
from ebbline.sessions.overview.contents import contents_of, set_archived
from ebbline.sessions.overview.listing import Overview, labels, list_sessions
from ebbline.sessions.overview.renewal import Renewed, renew, work_out
from ebbline.sessions.overview.search import SORT_KEYS, Order, Search
from ebbline.sessions.overview.table import sessions_csv
from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.sessions.records.setups import put_setup
from ebbline.sessions.records.uploads import Upload, store_records
from ebbline.sessions.results import results
from ebbline.sessions.results.headlines import HEADLINES
from ebbline.store import overviews
from ebbline.store.sessions import find

A, B, C = (UUID(int=number) for number in (1, 2, 3))


def make(db_session: Session, session_id: UUID, now_ms: int, **setup: Any) -> None:
    session = {"id": str(session_id), **setup.pop("session", {})}
    put_setup(db_session, session_id, None, {"session": session, **setup}, now_ms)


@pytest.fixture
def db_session(db_session: Session) -> Session:
    """Three sessions, the last one made first in the list."""
    make(
        db_session, A, T_MS,
        session={"title": "Cold run", "started_at": "2026-03-02T23:30:00-05:00"},
        vehicle={"label": "Sample car A"}, course={"label": "Course One"},
    )  # fmt: skip
    make(
        db_session, B, T_MS + 1,
        session={"notes": "wet brakes", "started_at": "2026-03-04T08:00:00+01:00"},
        vehicle={"label": "Sample car B"}, course={"label": "Course One"},
    )  # fmt: skip
    make(db_session, C, T_MS + 2, vehicle={"label": "Sample car B", "software": "2.0"})
    event = {"id": "e1", "device": "p", "t_ms": T_MS, "kind": "warning", "text": "Überhitzt, stop"}
    store_records(db_session, A, Upload(events=[event]), T_MS)
    return db_session


ASKED: list[tuple[dict[str, Any], list[UUID]]] = [
    ({}, [C, B, A]),
    ({"text": ""}, [C, B, A]),
    ({"text": "COLD"}, [A]),
    ({"text": "brakes wet"}, [B]),
    ({"text": "wet cold"}, []),
    ({"text": "überhitzt"}, [A]),
    ({"text": "warning cold"}, [A]),
    ({"text": "sample 2.0"}, [C]),
    ({"text": "sample%"}, []),
    ({"vehicle": "car b"}, [C, B]),
    ({"course": "one"}, [B, A]),
    ({"course": "one", "vehicle": "car a"}, [A]),
    ({"first_day": date(2026, 3, 2)}, [B, A]),
    ({"first_day": date(2026, 3, 3)}, [B]),
    ({"last_day": date(2026, 3, 2)}, [A]),
    ({"first_day": date(2026, 3, 2), "last_day": date(2026, 3, 4)}, [B, A]),
    ({"outcome": "no drive"}, [C, B]),  # a warning was tapped in A: somebody drove
    ({"outcome": "past zero"}, []),
    ({"archived": "yes"}, []),
]


def lines(db_session: Session, search: Search = Search()) -> list[Overview]:  # noqa: B008
    return list_sessions(db_session, search).sessions


def test_what_is_asked_for_is_found_and_nothing_else(db_session: Session) -> None:
    renew(db_session, lambda: T_MS, for_s=60)
    for asked, found in ASKED:
        listing = list_sessions(db_session, Search(**asked))
        assert [overview.id for overview in listing.sessions] == found, asked
        assert listing.total == len(found)


def test_a_session_put_away_is_out_of_the_list_and_otherwise_as_it_was(
    db_session: Session, engine: Engine
) -> None:
    list_sessions(db_session)  # which makes their lines
    before = contents(engine)
    set_archived(db_session, B, True, T_MS + 9)
    assert [o.id for o in lines(db_session)] == [C, A]
    away = lines(db_session, Search(archived="yes"))
    assert [(o.id, o.archived) for o in away] == [(B, True)]
    every = lines(db_session, Search(archived="all"))
    assert [o.id for o in every] == [C, B, A]
    assert contents_of(db_session, B).archived
    for table, rows in contents(engine).items():
        if table not in ("session", "overview"):
            assert rows == before[table]
    set_archived(db_session, B, False, T_MS + 10)
    assert contents(engine)["session"] == before["session"]


def test_putting_away_twice_keeps_the_first_moment(db_session: Session) -> None:
    for now_ms in (T_MS + 9, T_MS + 99):
        set_archived(db_session, B, True, now_ms)
    db_session.expire_all()
    assert find(db_session, B).archived_ms == T_MS + 9


def test_a_phone_can_still_add_to_a_session_put_away(db_session: Session) -> None:
    set_archived(db_session, A, True, T_MS)
    event = {"id": "e2", "device": "p", "t_ms": T_MS, "kind": "note"}
    assert store_records(db_session, A, Upload(events=[event]), T_MS).events == ["e2"]


def test_a_session_that_is_not_there_cannot_be_put_away(db_session: Session) -> None:
    with pytest.raises(NotFoundError):
        set_archived(db_session, UUID(int=9), True, T_MS)


def test_a_list_works_nothing_out_and_a_renewal_does(db_session: Session) -> None:
    assert [o.worked_out for o in lines(db_session)] == [False, False, False]
    work_out(db_session, B)
    listed = {o.id: o for o in lines(db_session)}
    assert (listed[B].worked_out, listed[B].outcome) == (True, "no drive")
    assert not listed[A].worked_out
    assert list_sessions(db_session).behind == 2
    assert renew(db_session, lambda: T_MS, first=[A], for_s=0) == Renewed(done=1, left=1)
    assert {o.id for o in lines(db_session) if o.worked_out} == {A, B}
    assert renew(db_session, lambda: T_MS, for_s=60) == Renewed(done=1, left=0)
    assert renew(db_session, lambda: T_MS) == Renewed(done=0, left=0)


def test_figures_of_before_stay_until_they_are_renewed(
    db_session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    renew(db_session, lambda: T_MS, for_s=60)
    event = {"id": "e2", "device": "p", "t_ms": T_MS, "kind": "warning"}
    store_records(db_session, B, Upload(events=[event]), T_MS)
    listed = {o.id: o for o in lines(db_session)}
    assert (listed[B].outcome, listed[B].worked_out, listed[B].event_count) == (
        "no drive",
        False,
        1,
    )
    assert listed[A].worked_out
    renew(db_session, lambda: T_MS)
    assert [o.outcome for o in lines(db_session) if o.id == B] == [None]  # somebody drove
    for module in (listing, renewal, results):
        monkeypatch.setattr(module, "engine_id", lambda: "ebbline 9 core other")
    assert {o.worked_out for o in lines(db_session)} == {False}
    assert {o.figures is None for o in lines(db_session)} == {False}


def test_two_who_renew_at_once_get_different_sessions(db_session: Session) -> None:
    list_sessions(db_session)
    claimed = [
        overviews.claim_behind_the_engine(db_session, engine_id(), [], T_MS, T_MS + 10)
        for _ in range(4)
    ]
    assert sorted(claimed[:3], key=str) == [A, B, C]
    assert claimed[3] is None
    later = overviews.claim_behind_the_engine(db_session, engine_id(), [], T_MS + 11, T_MS + 20)
    assert later in (A, B, C)  # who claimed it never came back


def test_an_analysis_that_fails_is_told_and_not_tried_again(
    db_session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(document: dict[str, Any]) -> Any:
        raise MeasureError("no such thing")

    monkeypatch.setattr(results, "_analyze", fail)
    monkeypatch.setattr(results, "_recent", RecentlyUsed(1))
    assert renew(db_session, lambda: T_MS, for_s=60) == Renewed(done=3, left=0)
    assert {(o.worked_out, o.failure) for o in lines(db_session)} == {(True, "no such thing")}


def test_every_order_has_every_session_and_what_is_not_known_last(db_session: Session) -> None:
    renew(db_session, lambda: T_MS, for_s=60)
    for by in SORT_KEYS:
        for descending in (False, True):
            listed = list_sessions(db_session, order=Order(by, descending)).sessions
            assert {o.id for o in listed} == {A, B, C}, by
    ways = {
        "name": [A, C, B], "events": [C, B, A], "started": [A, B, C], "outcome": [C, B, A],
    }  # fmt: skip
    make(db_session, UUID(int=7), T_MS)  # without name, vehicle and course
    for by, expected in ways.items():
        listed = list_sessions(db_session, order=Order(by, False)).sessions  # type: ignore[arg-type]
        assert [o.id for o in listed if o.id != UUID(int=7)] == expected, by
    for by in ("name", "vehicle", "course"):
        for descending in (False, True):
            assert list_sessions(db_session, order=Order(by, descending)).sessions[-1].id == UUID(
                int=7
            )


def test_pages_follow_one_another(db_session: Session) -> None:
    pages = [list_sessions(db_session, limit=2, offset=offset) for offset in (0, 2, 4)]
    assert [[o.id for o in page.sessions] for page in pages] == [[C, B], [A], []]
    assert {page.total for page in pages} == {3}


def test_labels_are_those_there_are(db_session: Session) -> None:
    there = labels(db_session)
    assert (there.vehicles, there.courses) == (["Sample car A", "Sample car B"], ["Course One"])


def test_the_table_has_a_line_for_each_session_and_what_each_said(db_session: Session) -> None:
    renew(db_session, lambda: T_MS, for_s=60)
    first, second = csv.DictReader(io.StringIO(sessions_csv(db_session, Search(vehicle="car b"))))
    assert (first["id"], second["id"]) == (str(C), str(B))
    assert (first["vehicle.software"], second["vehicle.software"]) == ("2.0", "")
    assert (first["session.notes"], second["session.notes"]) == ("", "wet brakes")
    assert first["outcome"] == "no drive"
    assert {f"{headline.key}_low" for headline in HEADLINES} <= first.keys()
    only = Search(session_ids=(A,))
    (line,) = csv.DictReader(io.StringIO(sessions_csv(db_session, only)))
    assert line["title"] == "Cold run"


def test_the_latest_start_comes_first_whenever_a_session_was_added_to(db_session: Session) -> None:
    early = UUID(int=4)
    make(db_session, early, T_MS + 9, session={"started_at": "2026-03-01T08:00:00-11:00"})
    event = {"id": "e3", "device": "p", "t_ms": T_MS, "kind": "note"}
    store_records(db_session, A, Upload(events=[event]), T_MS + 99)
    assert [o.id for o in lines(db_session)] == [C, B, A, early]


def test_what_stands_is_counted(db_session: Session) -> None:
    """By the rule of the result, case by case."""
    cases = {UUID(int=100 + number): case for number, case in enumerate(STANDING)}
    for session_id, case in cases.items():
        make(db_session, session_id, T_MS)
        for record in case["records"]:  # each an upload of its own
            upload = Upload([event(record, T_MS)], [reading(record, T_MS)])
            assert store_records(db_session, session_id, upload, T_MS).refused == []
    listed = {one.id: one for one in lines(db_session)}
    counts = {id_: (listed[id_].event_count, listed[id_].reading_count) for id_ in cases}
    assert counts == {id_: (len(case["stand"]),) * 2 for id_, case in cases.items()}


def test_what_was_replaced_or_taken_back_is_not_counted(db_session: Session) -> None:
    events = [
        {"id": "a", "device": "p", "t_ms": T_MS, "kind": "zero_soc"},
        {"id": "b", "device": "p", "t_ms": T_MS, "kind": "warning"},
        {"id": "a2", "device": "p", "t_ms": T_MS, "kind": "zero_range", "corrects": "a"},
        {"id": "a3", "device": "p", "t_ms": T_MS, "kind": "zero_soc", "corrects": "a2"},
        {"id": "b2", "device": "p", "t_ms": T_MS, "kind": "note", "corrects": "b",
         "withdraws": True},
        {"id": "x", "device": "p", "t_ms": T_MS, "kind": "note", "corrects": "not here"},
    ]  # fmt: skip
    read = {"device": "p", "t_ms": T_MS, "quantity": "soc", "unit": "%"}
    readings = [
        {**read, "id": "r", "value": 3},
        {**read, "id": "r2", "value": None, "corrects": "r"},
    ]
    receipt = store_records(db_session, B, Upload(events, readings), T_MS)
    assert receipt.refused == []
    listed = {overview.id: overview for overview in lines(db_session)}
    assert (listed[B].event_count, listed[B].reading_count) == (2, 0)
    assert listed[A].event_count == 1
