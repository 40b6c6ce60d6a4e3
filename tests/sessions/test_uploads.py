"""Uploads: each record for itself, any number of times, in any order, from anywhere at once."""

from __future__ import annotations

import copy
import random
import threading
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from database_contents import contents
from exchange.documents import ID, T_MS
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, NotFoundError, TooLargeError
from ebbline.exchange import session_file
from ebbline.exchange.session_file import load_file
from ebbline.sessions.files.session_files import export_file
from ebbline.sessions.overview.contents import contents_of
from ebbline.sessions.records.document import document_of
from ebbline.sessions.records.setups import put_setup
from ebbline.sessions.records.uploads import Receipt, Upload, store_records
from ebbline.sessions.results.analysis import analyze_document
from ebbline.store.photos import PhotoFolder
from ebbline.store.sessions import find

SESSION_ID = UUID(ID)
NOW_MS = T_MS + 10_000_000


@pytest.fixture
def db_session(db_session: Session) -> Session:
    """A database with one session that has a set-up and nothing else."""
    put_setup(db_session, SESSION_ID, None, {"session": {"id": ID}}, NOW_MS)
    return db_session


def event(number: int, **more: Any) -> dict[str, Any]:
    return {"id": f"e{number}", "device": "phone-1", "t_ms": T_MS + number, "kind": "note", **more}


def reading(number: int, **more: Any) -> dict[str, Any]:
    what = {"quantity": "soc", "value": 5, "unit": "%"}
    return {"id": f"r{number}", "device": "phone-1", "t_ms": T_MS + number, **what, **more}


def fixes(*seqs: int, device: str = "phone-1", **more: Any) -> dict[str, Any]:
    return {
        "device": device,
        "seq": list(seqs),
        "t_ms": [T_MS + 1000 * seq for seq in seqs],
        "lat": [47 + seq / 1e4 for seq in seqs],
        "lon": [8.0 for _ in seqs],
        "accuracy_m": [None if seq % 3 else 4.5 for seq in seqs],
        **more,
    }


def clock_check(number: int, **more: Any) -> dict[str, Any]:
    times = {"t_ms": T_MS + number, "offset_ms": -12.5, "round_trip_ms": 30}
    return {"id": f"c{number}", "device": "phone-1", **times, **more}


def store(db_session: Session, **upload: Any) -> Receipt:
    return store_records(db_session, SESSION_ID, Upload(**upload), NOW_MS)


def exported_fixes(db_session: Session) -> list[dict[str, Any]]:
    entries: list[dict[str, Any]] = document_of(db_session, SESSION_ID)["breadcrumbs"]
    return entries


def test_what_is_sent_is_held_exactly_as_it_came(db_session: Session) -> None:
    extra = event(1, by="someone", page="p1", mono_ms=12.5, own={"nested": [1, None]})
    receipt = store(
        db_session,
        events=[extra],
        readings=[reading(1)],
        breadcrumbs=[fixes(0, 1, 2)],
        clock_checks=[clock_check(1)],
    )
    assert receipt.held() == {
        "events": ["e1"],
        "readings": ["r1"],
        "breadcrumbs": [{"device": "phone-1", "ranges": [[0, 2]]}],
        "clock_checks": ["c1"],
    }
    assert receipt.refused == []
    held = contents_of(db_session, SESSION_ID)
    assert held.events == [extra]
    assert held.readings == [reading(1)]
    assert held.clock_checks == [clock_check(1)]
    assert exported_fixes(db_session) == [fixes(0, 1, 2)]


def test_a_resent_batch_changes_nothing(db_session: Session, engine: Engine) -> None:
    upload = {
        "events": [event(1), event(2)],
        "readings": [reading(1)],
        "breadcrumbs": [fixes(0, 1, 2)],
        "clock_checks": [clock_check(1)],
    }
    first = store(db_session, **copy.deepcopy(upload))
    before = contents(engine)
    again = store_records(db_session, SESSION_ID, Upload(**upload), NOW_MS + 5)
    assert again.held() == first.held()
    assert again.new == 0
    assert contents(engine) == before


@pytest.mark.parametrize("seed", range(5))
def test_overlapping_and_reordered_batches_give_what_one_batch_gives(
    db_session: Session, seed: int
) -> None:
    rng = random.Random(seed)
    seqs = sorted(rng.sample(range(200), 120))
    batches: list[Upload] = []
    for _ in range(40):
        start = rng.randrange(len(seqs))
        part = seqs[start : start + rng.randrange(1, 25)]
        batches.append(
            Upload(events=[event(s) for s in part if s % 5 == 0], breadcrumbs=[fixes(*part)])
        )
    batches.append(Upload(breadcrumbs=[fixes(*seqs)]))
    batches.append(Upload(events=[event(s) for s in seqs if s % 5 == 0]))
    rng.shuffle(batches)
    for batch in batches:
        receipt = store_records(db_session, SESSION_ID, batch, NOW_MS)
        assert receipt.refused == []
    assert exported_fixes(db_session) == [fixes(*seqs)]
    held = contents_of(db_session, SESSION_ID)
    in_time = sorted(held.events, key=lambda record: record["t_ms"])
    assert in_time == [event(s) for s in seqs if s % 5 == 0]
    assert held.fix_count == len(seqs)


def test_a_malformed_record_is_refused_alone(db_session: Session) -> None:
    receipt = store(
        db_session,
        events=[event(1), event(2, t_ms="soon"), "nothing", {"kind": "note"}, event(3)],
        readings=[reading(1, value=101), reading(2)],
        breadcrumbs=[7, fixes(0, 1), {**fixes(5, 6), "lat": [1.0]}],
        clock_checks=[clock_check(1, round_trip_ms=-1), clock_check(2)],
    )
    assert receipt.events == ["e1", "e3"]
    assert receipt.readings == ["r2"]
    assert receipt.clock_checks == ["c2"]
    assert receipt.held()["breadcrumbs"] == [{"device": "phone-1", "ranges": [[0, 1]]}]
    refused = {(refusal.kind, refusal.id, refusal.where) for refusal in receipt.refused}
    assert refused == {
        ("event", "e2", "events[1].t_ms"),
        ("event", None, "events[2]"),
        ("event", None, "events[3].id"),
        ("reading", "r1", "readings[0].value"),
        ("breadcrumbs", None, "breadcrumbs[0]"),
        ("breadcrumbs", None, "breadcrumbs[2].lat"),
        ("clock_check", "c1", "clock_checks[0].round_trip_ms"),
    }
    assert all(refusal.problem for refusal in receipt.refused)


def test_one_bad_fix_does_not_take_its_batch_with_it(db_session: Session) -> None:
    batch = fixes(0, 1, 2, 3)
    batch["lat"][2] = 91
    receipt = store(db_session, breadcrumbs=[batch])
    assert receipt.held()["breadcrumbs"] == [{"device": "phone-1", "ranges": [[0, 1], [3, 3]]}]
    assert [refusal.where for refusal in receipt.refused] == ["breadcrumbs[0].lat[2]"]
    assert exported_fixes(db_session) == [fixes(0, 1, 3)]


@pytest.mark.parametrize(
    ("column", "values", "where"),
    [
        ("t_ms", [T_MS, T_MS + 2000, T_MS + 1000], "breadcrumbs[0].t_ms[2]"),
        ("seq", [0, 2, 1], "breadcrumbs[0].seq[2]"),
        ("lon", [8.0, 8.0], "breadcrumbs[0].lon"),
    ],
)
def test_fixes_that_do_not_fit_together_are_refused_together(
    db_session: Session, engine: Engine, column: str, values: list[Any], where: str
) -> None:
    before = contents(engine)
    receipt = store(db_session, breadcrumbs=[{**fixes(0, 1, 2), column: values}])
    assert [refusal.where for refusal in receipt.refused] == [where]
    assert receipt.held()["breadcrumbs"] == []
    assert contents(engine) == before


@pytest.mark.parametrize(
    ("records", "where"),
    [
        ({"events": [event(number) for number in range(2001)]}, "events"),
        ({"readings": [reading(number) for number in range(2001)]}, "readings"),
        ({"clock_checks": [clock_check(number) for number in range(2001)]}, "clock_checks"),
        ({"breadcrumbs": [fixes(number) for number in range(501)]}, "breadcrumbs"),
        ({"breadcrumbs": [{"seq": [0] * 60_000}, {"lat": [0] * 40_001}]}, "breadcrumbs"),
    ],
)
def test_more_than_one_upload_may_hold_is_refused_and_nothing_stored(
    db_session: Session, engine: Engine, records: dict[str, Any], where: str
) -> None:
    before = contents(engine)
    with pytest.raises(TooLargeError, match=rf"^{where}: has .* send it in parts") as refused:
        store(db_session, **records)
    assert refused.value.where == where
    assert contents(engine) == before
    half = {name: some[: len(some) // 2] for name, some in records.items()}
    assert store(db_session, **half).held()


def test_what_is_wrong_with_thousands_of_fixes_is_found_in_few_checks_and_few_words(
    db_session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    checks = 0
    really = session_file.check_breadcrumbs

    def counted(raw: object, where: str) -> None:
        nonlocal checks
        checks += 1
        really(raw, where)

    monkeypatch.setattr(session_file, "check_breadcrumbs", counted)
    some_bad, all_bad = fixes(*range(20_000)), fixes(*range(20_000), device="phone-2")
    for row in (0, 9_000, 9_001, 19_999):
        some_bad["lat"][row] = None
    all_bad["lat"] = [91] * 20_000
    receipt = store(db_session, breadcrumbs=[some_bad, all_bad])
    ranges = [[1, 8_999], [9_002, 19_998]]
    assert receipt.held()["breadcrumbs"] == [{"device": "phone-1", "ranges": ranges}]
    assert [refusal.where for refusal in receipt.refused] == [
        *(f"breadcrumbs[0].lat[{row}]" for row in (0, 9_000, 9_001, 19_999)),
        "breadcrumbs[1].lat[0]",
    ]
    assert checks < 2_010
    other = {**fixes(*range(20_000)), "lon": [8.5] * 20_000}
    assert len(store(db_session, breadcrumbs=[other]).refused) < 500


def test_a_refusal_does_not_repeat_an_endless_id(db_session: Session) -> None:
    refused = store(db_session, events=[{**event(1), "id": "e" * 1_000_000}]).refused
    assert [len(str(refusal)) < 1_000 for refusal in refused] == [True]


def test_same_id_with_other_content_is_refused_and_the_original_stays(
    db_session: Session,
) -> None:
    store(db_session, events=[event(1)], readings=[reading(1)], clock_checks=[clock_check(1)])
    receipt = store(
        db_session,
        events=[event(1, text="changed"), event(2)],
        readings=[reading(1, value=6)],
        clock_checks=[clock_check(1, offset_ms=0)],
    )
    assert receipt.events == ["e2"]
    assert [(refusal.kind, refusal.id) for refusal in receipt.refused] == [
        ("event", "e1"),
        ("reading", "r1"),
        ("clock_check", "c1"),
    ]
    held = contents_of(db_session, SESSION_ID)
    assert held.events == [event(1), event(2)]
    assert held.readings == [reading(1)]
    assert held.clock_checks == [clock_check(1)]


def test_same_seq_with_another_fix_is_refused_and_the_original_stays(db_session: Session) -> None:
    store(db_session, breadcrumbs=[fixes(0, 1, 2)])
    other = fixes(1, 2, 3, 4)
    other["lat"][1] = 12.0
    receipt = store(db_session, breadcrumbs=[other])
    assert receipt.held()["breadcrumbs"] == [{"device": "phone-1", "ranges": [[1, 1], [3, 4]]}]
    assert len(receipt.refused) == 1
    assert receipt.refused[0].problem.startswith("2 is held already")
    assert exported_fixes(db_session) == [fixes(0, 1, 2, 3, 4)]


def test_a_number_and_a_flag_are_not_the_same_content(db_session: Session) -> None:
    store(db_session, events=[event(1, own=1)])
    receipt = store(db_session, events=[event(1, own=True)])
    assert [refusal.id for refusal in receipt.refused] == ["e1"]


def test_one_id_twice_in_one_upload_keeps_the_first(db_session: Session) -> None:
    receipt = store(db_session, events=[event(1), event(1), event(1, text="other")])
    assert receipt.events == ["e1", "e1"]
    assert [refusal.where for refusal in receipt.refused] == ["events[2].id"]
    assert contents_of(db_session, SESSION_ID).events == [event(1)]


def test_a_correction_adds_and_the_original_stays(db_session: Session) -> None:
    undo = event(2, corrects="e1", withdraws=True, text="withdrawn")
    store(db_session, events=[undo])  # batches may come in any order
    store(db_session, events=[event(1)])
    assert contents_of(db_session, SESSION_ID).events == [undo, event(1)]


def test_a_correction_whose_original_is_still_to_come_can_be_exported_and_read(
    db_session: Session, tmp_path: Path
) -> None:
    store(db_session, events=[event(2, corrects="e1", withdraws=True)])
    content = export_file(db_session, PhotoFolder(str(tmp_path)), SESSION_ID).content
    document, _ = load_file(content)
    assert document["events"] == [event(2, corrects="e1", withdraws=True)]
    assert analyze_document(document).result.timeline == ()


def test_corrections_that_lead_round_in_a_circle_are_refused(db_session: Session) -> None:
    store(db_session, events=[event(1, corrects="e2")])
    receipt = store(db_session, events=[event(3), event(2, corrects="e1")])
    assert receipt.events == ["e3"]
    assert [refusal.where for refusal in receipt.refused] == ["events[1].corrects"]


def test_devices_and_clock_steps_stay_apart(db_session: Session) -> None:
    earlier = fixes(3, 4)
    earlier["t_ms"] = [T_MS - 5000, T_MS - 4000]  # the phone's clock was set back before seq 3
    store(db_session, breadcrumbs=[fixes(0, 1, 2), earlier, fixes(0, 1, device="phone-2")])
    assert exported_fixes(db_session) == [
        fixes(0, 1, 2),
        earlier,
        fixes(0, 1, device="phone-2"),
    ]


def test_batches_with_other_columns_are_not_mixed(db_session: Session) -> None:
    with_page = fixes(2, 3, page=["a", "a"])
    store(db_session, breadcrumbs=[fixes(0, 1)])
    store(db_session, breadcrumbs=[with_page])
    assert exported_fixes(db_session) == [fixes(0, 1), with_page]


def test_an_unknown_session_is_refused(db_session: Session, engine: Engine) -> None:
    before = contents(engine)
    with pytest.raises(NotFoundError):
        store_records(db_session, UUID(int=7), Upload(events=[event(1)]), NOW_MS)
    db_session.rollback()
    assert contents(engine) == before


def test_an_addition_is_noted_once(db_session: Session) -> None:
    before = find(db_session, SESSION_ID).additions
    store(db_session, events=[event(1)])
    store(db_session, events=[event(1)])
    db_session.expire_all()
    row = find(db_session, SESSION_ID)
    assert row.additions == before + 1
    assert row.updated_ms == NOW_MS


def test_the_same_upload_from_many_threads_at_once_is_stored_once(
    db_session: Session, engine: Engine
) -> None:
    upload = Upload(
        events=[event(n) for n in range(30)],
        readings=[reading(n) for n in range(30)],
        breadcrumbs=[fixes(*range(300))],
        clock_checks=[clock_check(1)],
    )
    receipts = at_once(engine, [upload] * 6)
    assert all(receipt.refused == [] for receipt in receipts)
    assert all(receipt.held() == receipts[0].held() for receipt in receipts)
    assert sorted(receipt.new for receipt in receipts) == [0, 0, 0, 0, 0, 361]
    held = contents_of(db_session, SESSION_ID)
    assert (len(held.events), len(held.readings), held.fix_count) == (30, 30, 300)


def test_overlapping_uploads_from_many_threads_at_once_lose_and_double_nothing(
    db_session: Session, engine: Engine
) -> None:
    uploads = [
        Upload(
            events=[event(n) for n in range(start, start + 20)],
            breadcrumbs=[fixes(*range(10 * start, 10 * start + 200))],
        )
        for start in (0, 5, 10, 15, 20, 25)
    ]
    receipts = at_once(engine, uploads)
    assert all(receipt.refused == [] for receipt in receipts)
    assert sum(receipt.new for receipt in receipts) == 45 + 450
    held = contents_of(db_session, SESSION_ID)
    in_time = sorted(held.events, key=lambda record: record["t_ms"])
    assert in_time == [event(n) for n in range(45)]
    assert exported_fixes(db_session) == [fixes(*range(450))]


def test_different_content_under_one_id_at_once_keeps_exactly_one(
    db_session: Session, engine: Engine
) -> None:
    uploads = [Upload(events=[event(1, text=f"version {n}")]) for n in range(6)]
    receipts = at_once(engine, uploads)
    winners = [n for n, receipt in enumerate(receipts) if receipt.events == ["e1"]]
    assert len(winners) == 1
    assert sum(len(receipt.refused) for receipt in receipts) == 5
    held = contents_of(db_session, SESSION_ID).events
    assert held == [event(1, text=f"version {winners[0]}")]


def at_once(engine: Engine, uploads: list[Upload]) -> list[Receipt]:
    """Store the uploads from as many threads, started together."""
    start = threading.Barrier(len(uploads))
    receipts: dict[int, Receipt] = {}

    def send(number: int) -> None:
        start.wait(20)
        with Session(engine) as db_session:
            receipts[number] = store_records(db_session, SESSION_ID, uploads[number], NOW_MS)

    threads = [threading.Thread(target=send, args=(n,)) for n in range(len(uploads))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(receipts) == len(uploads)  # a thread that failed has left none
    return [receipts[n] for n in range(len(uploads))]


def two_corrections(db_session: Session) -> list[dict[str, Any]]:
    """An event and a reading, each corrected by somebody; answers with the corrections."""
    held = [event(2, corrects="e1", by="one"), reading(2, corrects="r1", by="one")]
    store(db_session, events=[event(1), held[0]], readings=[reading(1), held[1]])
    return held


def test_a_second_correction_that_had_to_be_the_only_one_is_refused_with_both_versions(
    db_session: Session, engine: Engine
) -> None:
    held = two_corrections(db_session)
    mine = [event(3, corrects="e1", by="two"), reading(3, corrects="r1", by="two")]
    before = contents(engine)
    with pytest.raises(ConflictError) as refused:
        store(
            db_session,
            events=[event(9), mine[0]],
            readings=[mine[1]],
            breadcrumbs=[fixes(0)],
            sole=True,
        )
    assert refused.value.conflicts == [
        {"id": "e1", "yours": mine[0], "held": held[0]},
        {"id": "r1", "yours": mine[1], "held": held[1]},
    ]
    assert contents(engine) == before


def test_a_sole_correction_sent_again_is_no_conflict_with_itself(
    db_session: Session, engine: Engine
) -> None:
    store(db_session, events=[event(1)], sole=True)
    first = store(db_session, events=[event(2, corrects="e1")], sole=True)
    before = contents(engine)
    again = store(db_session, events=[event(2, corrects="e1")], sole=True)
    assert again.held() == first.held()
    assert contents(engine) == before


def test_the_latest_correction_may_be_corrected_and_a_phone_may_always_add(
    db_session: Session,
) -> None:
    two_corrections(db_session)
    assert store(db_session, events=[event(3, corrects="e2")], sole=True).events == ["e3"]
    assert store(db_session, events=[event(4, corrects="e1")]).events == ["e4"]


def test_of_two_desks_that_correct_one_record_at_once_exactly_one_wins(
    db_session: Session, engine: Engine
) -> None:
    store(db_session, events=[event(1)])
    start = threading.Barrier(2)
    conflicts: list[object] = []

    def correct(number: int) -> None:
        start.wait(20)
        upload = Upload(events=[event(number, corrects="e1")], sole=True)
        with Session(engine) as own:
            try:
                store_records(own, SESSION_ID, upload, NOW_MS)
            except ConflictError as error:
                conflicts.append(error.conflicts)

    threads = [threading.Thread(target=correct, args=(number,)) for number in (2, 3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(conflicts) == 1
    held = contents_of(db_session, SESSION_ID).events
    assert len([record for record in held if record.get("corrects") == "e1"]) == 1
