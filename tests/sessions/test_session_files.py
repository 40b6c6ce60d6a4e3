"""Session files in and out of the database."""

from __future__ import annotations

import copy
import hashlib
import json
import math
import threading
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from database_contents import contents
from exchange.documents import ID, T_MS, a_document
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline import store
from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.exchange import session_file
from ebbline.sessions.files.session_files import ImportedSession, export_file, import_file
from ebbline.sessions.records.document import document_of
from ebbline.sessions.records.setups import put_setup
from ebbline.sessions.records.uploads import Upload, store_records
from ebbline.store.photos import PhotoFolder

SESSION_ID = UUID(ID)
PICTURE = b"\xff\xd8 not really a picture" * 100
SHA256 = hashlib.sha256(PICTURE).hexdigest()


@pytest.fixture
def folder(tmp_path: Path) -> PhotoFolder:
    return PhotoFolder(str(tmp_path / "photos"))


def with_picture() -> dict[str, Any]:
    document = a_document()
    document["photos"] = [{"sha256": SHA256, "t_ms": T_MS, "media_type": "image/jpeg", "x": [1]}]
    return document


def take(db_session: Session, folder: PhotoFolder, document: dict[str, Any]) -> ImportedSession:
    return import_file(db_session, folder, session_file.dump_document(document), T_MS + 1_000_000)


def test_what_is_exported_is_what_was_imported(db_session: Session, folder: PhotoFolder) -> None:
    document = a_document()
    document["own"] = {"kept": True}
    document["events"][0]["own"] = "kept too"
    document["breadcrumbs"][0]["note"] = "and this"
    done = take(db_session, folder, document)
    assert (done.id, done.events, done.readings, done.fixes) == (SESSION_ID, 2, 2, 3)
    assert done.changed
    exported = export_file(db_session, folder, SESSION_ID)
    assert not exported.is_archive
    assert json.loads(exported.content) == document


def test_an_export_can_be_imported_elsewhere_and_gives_the_same_export(
    db_session: Session, folder: PhotoFolder, tmp_path: Path
) -> None:
    take(db_session, folder, with_clock_step(a_document()))
    first = export_file(db_session, folder, SESSION_ID)
    elsewhere = store.open_engine(f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}")
    with Session(elsewhere) as other:
        import_file(other, folder, first.content, T_MS)
        second = export_file(other, folder, SESSION_ID)
    elsewhere.dispose()
    assert second == first


def with_clock_step(document: dict[str, Any]) -> dict[str, Any]:
    again = copy.deepcopy(document["breadcrumbs"][0])
    again["seq"] = [6, 7, 9]
    again["t_ms"] = [T_MS - 60_000, T_MS - 59_000, T_MS - 58_000]
    document["breadcrumbs"].append(again)
    return document


def test_a_clock_set_back_stays_an_entry_of_its_own(
    db_session: Session, folder: PhotoFolder
) -> None:
    document = with_clock_step(a_document())
    take(db_session, folder, document)
    exported = document_of(db_session, SESSION_ID)
    assert exported["breadcrumbs"] == document["breadcrumbs"]


def test_a_clock_set_forward_stays_an_entry_of_its_own_too(
    db_session: Session, folder: PhotoFolder
) -> None:
    document = with_clock_step(a_document())
    document["breadcrumbs"][1]["t_ms"] = [T_MS + 3_600_000 + 1000 * n for n in range(3)]
    take(db_session, folder, document)
    exported = document_of(db_session, SESSION_ID)
    assert exported["breadcrumbs"] == document["breadcrumbs"]


SAMPLES = sorted((Path(__file__).parents[2] / "sample_sessions").glob("*.ebbline.json"))


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.name)
def test_every_sample_comes_out_as_it_went_in(
    db_session: Session, folder: PhotoFolder, sample: Path
) -> None:
    content = sample.read_bytes()
    done = import_file(db_session, folder, content, T_MS)
    exported = export_file(db_session, folder, done.id)
    assert json.loads(exported.content) == json.loads(content)


def test_pictures_come_back_with_their_session(db_session: Session, folder: PhotoFolder) -> None:
    document = with_picture()
    packed = session_file.dump_archive(document, {SHA256: PICTURE})
    import_file(db_session, folder, packed, T_MS)
    exported = export_file(db_session, folder, SESSION_ID)
    assert exported.is_archive
    assert session_file.load_archive(exported.content) == (document, {SHA256: PICTURE})


def test_a_file_that_names_pictures_it_does_not_bring_keeps_what_is_known_of_them(
    db_session: Session, folder: PhotoFolder
) -> None:
    take(db_session, folder, with_picture())
    exported = export_file(db_session, folder, SESSION_ID)
    assert not exported.is_archive
    assert json.loads(exported.content) == with_picture()


def test_pictures_may_come_after_the_records_that_name_them(
    db_session: Session, folder: PhotoFolder
) -> None:
    take(db_session, folder, with_picture())
    packed = session_file.dump_archive(with_picture(), {SHA256: PICTURE})
    assert import_file(db_session, folder, packed, T_MS).changed
    assert export_file(db_session, folder, SESSION_ID).is_archive


def test_a_refused_file_leaves_no_picture_behind(
    db_session: Session, folder: PhotoFolder, tmp_path: Path
) -> None:
    take(db_session, folder, a_document())
    document = with_picture()
    break_event(document)
    packed = session_file.dump_archive(document, {SHA256: PICTURE})
    with pytest.raises(ConflictError):
        import_file(db_session, folder, packed, T_MS)
    assert folder.get(SHA256) is None


@pytest.mark.parametrize("archive", [False, True])
def test_the_same_file_again_changes_nothing(
    db_session: Session, engine: Engine, folder: PhotoFolder, archive: bool
) -> None:
    document = with_picture()
    content = (
        session_file.dump_archive(document, {SHA256: PICTURE})
        if archive
        else session_file.dump_document(document)
    )
    import_file(db_session, folder, content, T_MS)
    before = contents(engine)
    again = import_file(db_session, folder, content, T_MS + 99)
    assert not again.changed
    assert contents(engine) == before


def test_its_own_export_again_changes_nothing_even_with_a_measured_clock(
    db_session: Session, engine: Engine, folder: PhotoFolder
) -> None:
    document = a_document()
    del document["devices"]
    take(db_session, folder, document)
    check = {"id": "c1", "device": "phone-1", "t_ms": T_MS, "offset_ms": 5, "round_trip_ms": 8}
    store_records(db_session, SESSION_ID, Upload(clock_checks=[check]), T_MS)
    before = contents(engine)
    exported = export_file(db_session, folder, SESSION_ID)
    assert not import_file(db_session, folder, exported.content, T_MS).changed
    assert contents(engine) == before


def test_a_file_brings_what_the_phone_could_not_send(
    db_session: Session, folder: PhotoFolder
) -> None:
    document = a_document()
    setup = session_file.setup_of(document)
    put_setup(db_session, SESSION_ID, None, setup, T_MS)
    sent = Upload(events=document["events"][:1], breadcrumbs=[first_fixes(document, 2)])
    store_records(db_session, SESSION_ID, sent, T_MS)
    done = take(db_session, folder, document)
    assert done.revision == 1
    assert document_of(db_session, SESSION_ID) == document


def first_fixes(document: dict[str, Any], count: int) -> dict[str, Any]:
    return {
        key: value[:count] if isinstance(value, list) else value
        for key, value in document["breadcrumbs"][0].items()
    }


def test_another_set_up_becomes_a_revision_and_an_older_one_does_not(
    db_session: Session, folder: PhotoFolder
) -> None:
    take(db_session, folder, a_document())
    newer = a_document()
    newer["vehicle"]["label"] = "Corrected"
    assert take(db_session, folder, newer).revision == 2
    older = take(db_session, folder, a_document())
    assert (older.revision, older.changed) == (2, False)


def break_event(document: dict[str, Any]) -> None:
    document["events"][1]["text"] = "other"


def break_reading(document: dict[str, Any]) -> None:
    document["readings"][0]["value"] = 1.3


def break_fix(document: dict[str, Any]) -> None:
    document["breadcrumbs"][0]["lat"][1] = 12.5


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (break_event, "events[1].id"),
        (break_reading, "readings[0].id"),
        (break_fix, "breadcrumbs[0], seq 1"),
    ],
)
def test_a_file_that_contradicts_what_is_held_is_refused_in_whole(
    db_session: Session, engine: Engine, folder: PhotoFolder, change: Any, place: str
) -> None:
    take(db_session, folder, a_document())
    before = contents(engine)
    document = a_document()
    change(document)
    document["events"].append({"id": "e9", "device": "d", "t_ms": T_MS, "kind": "note"})
    with pytest.raises(ConflictError) as refusal:
        take(db_session, folder, document)
    assert str(refusal.value).startswith(place)
    assert contents(engine) == before


def test_a_malformed_file_changes_nothing(
    db_session: Session, engine: Engine, folder: PhotoFolder
) -> None:
    document = a_document()
    document["breadcrumbs"][0]["lat"][2] = 91
    with pytest.raises(InputError) as refusal:
        take(db_session, folder, document)
    assert refusal.value.where == "breadcrumbs[0].lat[2]"
    assert all(not rows for rows in contents(engine).values())


def test_the_same_file_from_many_threads_at_once_is_stored_once(
    engine: Engine, folder: PhotoFolder
) -> None:
    content = session_file.dump_archive(with_picture(), {SHA256: PICTURE})
    start = threading.Barrier(6)
    changed: list[bool] = []

    def send() -> None:
        start.wait(20)
        with Session(engine) as db_session:
            changed.append(import_file(db_session, folder, content, T_MS).changed)

    threads = [threading.Thread(target=send) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(changed) == [False] * 5 + [True]
    with Session(engine) as db_session:
        assert document_of(db_session, SESSION_ID) == with_picture()


def test_the_clock_check_with_the_shortest_round_trip_gives_the_offset(
    db_session: Session, folder: PhotoFolder
) -> None:
    document = a_document()
    document["devices"] = [{"id": "phone-1", "label": "Passenger"}, {"id": "phone-2"}]
    take(db_session, folder, document)
    checks = [
        {"id": "c1", "device": "phone-1", "t_ms": T_MS, "offset_ms": 90, "round_trip_ms": 400},
        {"id": "c2", "device": "phone-1", "t_ms": T_MS, "offset_ms": -7.5, "round_trip_ms": 24},
        {"id": "c3", "device": "phone-3", "t_ms": T_MS, "offset_ms": 3, "round_trip_ms": 12},
    ]
    store_records(db_session, SESSION_ID, Upload(clock_checks=checks), T_MS)
    devices = document_of(db_session, SESSION_ID)["devices"]
    # A value anywhere within ± a equally likely has the standard deviation a / √3
    # (JCGM 100:2008, 4.3.7); here a is half the round trip.
    assert devices == [
        {
            "id": "phone-1",
            "label": "Passenger",
            "clock_offset_ms": -7.5,
            "clock_offset_sd_ms": pytest.approx(12 / math.sqrt(3)),
        },
        {"id": "phone-2"},
        {
            "id": "phone-3",
            "clock_offset_ms": 3,
            "clock_offset_sd_ms": pytest.approx(6 / math.sqrt(3)),
        },
    ]


def test_an_offset_in_the_set_up_outranks_a_clock_check(
    db_session: Session, folder: PhotoFolder
) -> None:
    take(db_session, folder, a_document())  # its set-up says -250 ms
    check = {"id": "c", "device": "phone-1", "t_ms": T_MS, "offset_ms": 1, "round_trip_ms": 2}
    store_records(db_session, SESSION_ID, Upload(clock_checks=[check]), T_MS)
    devices = document_of(db_session, SESSION_ID)["devices"]
    assert devices == a_document()["devices"]


def test_an_unknown_session_cannot_be_exported(db_session: Session, folder: PhotoFolder) -> None:
    with pytest.raises(NotFoundError):
        export_file(db_session, folder, UUID(int=3))
