"""Results: a pure function of the evidence, cached, and never out of date."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from exchange.documents import ID, T_MS, a_document
from sqlalchemy import Engine, func, select
from sqlalchemy.orm import Session

from ebbline.engine import engine_id
from ebbline.errors import NotFoundError
from ebbline.exchange import result_document, session_file
from ebbline.exchange.session_file import load_file, sha256_of
from ebbline.sessions.files.session_files import export_file, import_file
from ebbline.sessions.overview.listing import list_sessions
from ebbline.sessions.overview.renewal import renew
from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.sessions.records.uploads import Upload, store_records
from ebbline.sessions.results import publishing, results
from ebbline.sessions.results.analysis import analyze_document
from ebbline.sessions.results.exports import export_csv
from ebbline.sessions.results.results import analysis_of, result_of
from ebbline.store.models import ResultRow
from ebbline.store.photos import PhotoFolder

SESSION_ID = UUID(ID)
EVENT = {"id": "new", "device": "phone-1", "t_ms": T_MS, "kind": "note"}
SAMPLES = Path(__file__).parents[2] / "sample_sessions"


@pytest.fixture
def db_session(db_session: Session, tmp_path: Path) -> Session:
    """A database with one small session."""
    folder = PhotoFolder(str(tmp_path / "photos"))
    content = session_file.dump_document(a_document())
    import_file(db_session, folder, content, T_MS)
    return db_session


@pytest.fixture
def analyses(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Grows by one with every run of the core; no process-wide memory of earlier tests."""
    monkeypatch.setattr(results, "_recent", RecentlyUsed(results.ANALYSES_KEPT))
    runs: list[str] = []
    real = results._analyze

    def counted(document: dict[str, Any]) -> Any:
        runs.append(document["session"]["id"])
        return real(document)

    monkeypatch.setattr(results, "_analyze", counted)
    return runs


def test_the_servers_result_is_that_of_the_exported_file(
    db_session: Session, tmp_path: Path
) -> None:
    served = result_of(db_session, SESSION_ID)
    exported = export_file(db_session, PhotoFolder(str(tmp_path)), SESSION_ID).content
    document, _ = load_file(exported)
    analysis = analyze_document(document)
    assert served == result_document.dump(analysis.result, sha256_of(exported))


def test_asking_again_computes_nothing(
    db_session: Session, engine: Engine, analyses: list[str]
) -> None:
    first = result_of(db_session, SESSION_ID)
    results._recent = RecentlyUsed(results.ANALYSES_KEPT)  # as another process would have it
    with Session(engine) as other:
        assert result_of(other, SESSION_ID) == first
    assert len(analyses) == 1


def test_an_addition_makes_a_new_result_and_a_resend_does_not(
    db_session: Session, analyses: list[str]
) -> None:
    before = json.loads(result_of(db_session, SESSION_ID))
    store_records(db_session, SESSION_ID, Upload(events=[EVENT]), T_MS)
    after = json.loads(result_of(db_session, SESSION_ID))
    assert before["input_sha256"] != after["input_sha256"]
    assert "new" in [entry["event_id"] for entry in after["timeline"]]
    store_records(db_session, SESSION_ID, Upload(events=[EVENT]), T_MS)
    assert json.loads(result_of(db_session, SESSION_ID)) == after
    assert len(analyses) == 2
    count = db_session.scalar(select(func.count()).select_from(ResultRow))
    assert count == 1  # what is out of date is not kept


def test_another_engine_does_not_trust_what_this_one_cached(
    db_session: Session, analyses: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    result_of(db_session, SESSION_ID)
    monkeypatch.setattr(results, "_recent", RecentlyUsed(results.ANALYSES_KEPT))
    monkeypatch.setattr(results, "engine_id", lambda: "ebbline 9 core other")
    result_of(db_session, SESSION_ID)
    assert len(analyses) == 2


def test_many_who_ask_at_once_wait_for_one_computation(
    db_session: Session, engine: Engine, analyses: list[str]
) -> None:
    start = threading.Barrier(5)
    answers: list[bytes] = []

    def ask() -> None:
        start.wait(20)
        with Session(engine) as other:
            answers.append(result_of(other, SESSION_ID))

    threads = [threading.Thread(target=ask) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(answers) == 5
    assert len(set(answers)) == 1
    assert len(analyses) == 1


def test_result_cache_report_and_list_name_one_engine(db_session: Session) -> None:
    held = json.loads(result_of(db_session, SESSION_ID))
    assert held["engine"] == engine_id()
    assert db_session.scalars(select(ResultRow.engine)).all() == [engine_id()]
    assert publishing.subject_of(db_session, SESSION_ID, "km").engine == engine_id()
    (line,) = list_sessions(db_session).sessions  # by what was kept, under that name
    assert line.worked_out


def test_a_session_that_is_not_there_has_no_result(db_session: Session) -> None:
    for ask in (result_of, analysis_of, export_csv):
        with pytest.raises(NotFoundError):
            ask(db_session, UUID(int=9))


def test_the_list_shows_what_was_recorded_and_what_it_means(
    db_session: Session, tmp_path: Path
) -> None:
    folder = PhotoFolder(str(tmp_path / "photos"))
    names = ("full-run", "early-shutdown")
    for number, name in enumerate(names):
        content = (SAMPLES / f"{name}.ebbline.json").read_bytes()
        import_file(db_session, folder, content, T_MS + 1000 + number)
    renew(db_session, lambda: T_MS, for_s=60)
    listed = list_sessions(db_session).sessions
    (small,) = (overview for overview in listed if overview.id == SESSION_ID)
    shut_down, full = (overview for overview in listed if overview is not small)
    assert (full.outcome, shut_down.outcome) == ("past zero", "before zero")
    result = json.loads(result_of(db_session, full.id))
    assert full.figures["reserve_distance_m"] == result["reserve"]["distance_m"] is not None
    assert full.figures["reserve_energy_kwh"] == result["reserve"]["energy_kwh"] is not None
    assert shut_down.figures["reserve_distance_m"] is None
    document = json.loads((SAMPLES / "full-run.ebbline.json").read_bytes())
    assert full.title == document["session"]["title"]
    assert full.vehicle_label == document["vehicle"]["label"]
    assert full.course_label == document["course"]["label"]
    assert full.event_count == len(document["events"])
    assert full.reading_count == len(document["readings"])
    assert full.fix_count == sum(len(entry["seq"]) for entry in document["breadcrumbs"])
    assert small.updated_at == "2026-03-02T14:00:00+00:00"


def test_the_list_analyses_nothing(db_session: Session, analyses: list[str]) -> None:
    (line,) = list_sessions(db_session).sessions
    assert (line.outcome, line.worked_out) == (None, False)
    assert analyses == []
