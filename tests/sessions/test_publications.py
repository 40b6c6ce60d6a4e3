"""What was published stays as it was, and what changed since is told with its reason."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from exchange.documents import T_MS
from sqlalchemy.orm import Session

from ebbline import store
from ebbline.records.result import Quantity
from ebbline.report.figures import Units
from ebbline.sessions.files.session_files import import_file
from ebbline.sessions.overview.listing import list_sessions
from ebbline.sessions.overview.renewal import renew
from ebbline.sessions.overview.search import Search
from ebbline.sessions.publications.of_session import publications_of, record_publication
from ebbline.sessions.records.setups import current_setup, put_setup
from ebbline.sessions.records.uploads import Upload, store_records
from ebbline.sessions.results.headlines import HEADLINES, account_of
from ebbline.sessions.results.publishing import several_packed
from ebbline.sessions.results.results import result_of
from ebbline.sessions.results.telling import changes
from ebbline.store.models import PublicationRow
from ebbline.store.photos import PhotoFolder

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
KM = Units("km")


@pytest.fixture
def session_id(sqlite_session: Session, tmp_path: Path) -> UUID:
    return bring_in(sqlite_session, tmp_path, "full-run")


@pytest.fixture
def sqlite_session(sqlite_url: str) -> Iterator[Session]:
    engine = store.open_engine(sqlite_url)
    with Session(engine) as db_session:
        yield db_session
    engine.dispose()


def bring_in(db_session: Session, folder: Path, sample: str) -> UUID:
    data = (SAMPLES / f"{sample}.ebbline.json").read_bytes()
    return import_file(db_session, PhotoFolder(str(folder)), data, T_MS).id


def flag(db_session: Session) -> tuple[bool, bool | None]:
    renew(db_session, lambda: T_MS, for_s=60)
    (listed,) = list_sessions(db_session, Search(archived="all")).sessions
    return listed.published_at is not None, listed.published_differs


def move_zero(db_session: Session, session_id: UUID, by_ms: int) -> None:
    """Correct the moment of zero."""
    timeline = json.loads(result_of(db_session, session_id))["timeline"]
    zero = next(entry for entry in timeline if entry["kind"] == "zero_soc")
    moved = {"id": f"moved {by_ms}", "device": "desk", "t_ms": zero["t_ms"] + by_ms,
             "kind": "zero_soc", "corrects": zero["event_id"]}  # fmt: skip
    assert store_records(db_session, session_id, Upload(events=[moved]), T_MS).refused == []


def test_a_correction_of_the_evidence_is_told_with_old_and_new_figures(
    sqlite_session: Session, session_id: UUID
) -> None:
    assert flag(sqlite_session) == (False, None)
    record_publication(sqlite_session, session_id, "alex", "the film", T_MS)
    (stands,) = publications_of(sqlite_session, session_id, KM)
    assert (stands.by, stands.note, stands.reasons, stands.changed) == ("alex", "the film", [], [])
    assert stands.erratum is None
    assert flag(sqlite_session) == (True, False)
    then = stands.summary

    move_zero(sqlite_session, session_id, 60_000)
    (changed,) = publications_of(sqlite_session, session_id, KM)
    assert changed.summary == then  # frozen
    assert changed.reasons == ["evidence"]
    distance = next(one for one in changed.changed if one.key == "reserve_distance_m")
    now = json.loads(result_of(sqlite_session, session_id))["reserve"]["distance_m"]
    assert distance.old == Quantity(**then["reserve_distance_m"])
    assert distance.new == Quantity(**now)
    assert distance.old is not None
    assert changed.erratum is not None
    for said in ("2 March 2026", "evidence was added or corrected", "Distance past zero is",
                 KM.text("distance", distance.old), KM.text("distance", distance.new)):  # fmt: skip
        assert said in changed.erratum
    assert flag(sqlite_session) == (True, True)
    differing = list_sessions(sqlite_session, Search(published="differs"))
    assert [one.id for one in differing.sessions] == [session_id]

    record_publication(sqlite_session, session_id, None, None, T_MS + 1)  # the erratum is out
    assert flag(sqlite_session) == (True, False)
    assert [one.summary == then for one in publications_of(sqlite_session, session_id, KM)] == [
        False, True,
    ]  # fmt: skip


def test_other_choices_are_told_from_other_evidence(
    sqlite_session: Session, session_id: UUID
) -> None:
    record_publication(sqlite_session, session_id, None, None, T_MS)
    held = current_setup(sqlite_session, session_id)
    protocol = {**(held.setup.get("protocol") or {}), "reserve_end": "standstill"}
    other = {**held.setup, "protocol": protocol}
    put_setup(sqlite_session, session_id, held.revision, other, T_MS + 1)
    (changed,) = publications_of(sqlite_session, session_id, KM)
    assert changed.reasons == ["choices"]
    note = {"id": "n", "device": "desk", "t_ms": T_MS, "kind": "note"}
    store_records(sqlite_session, session_id, Upload(events=[note]), T_MS)
    (changed,) = publications_of(sqlite_session, session_id, KM)
    assert changed.reasons == ["evidence", "choices"]


def test_another_engine_with_the_same_figures_is_no_erratum(
    sqlite_session: Session, session_id: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    record_publication(sqlite_session, session_id, None, None, T_MS)
    row = sqlite_session.query(PublicationRow).one()
    row.engine = "ebbline 0 core earlier"
    sqlite_session.commit()
    (stands,) = publications_of(sqlite_session, session_id, KM)
    assert (stands.reasons, stands.changed, stands.erratum) == (["engine"], [], None)


def test_what_nobody_can_tell_apart_is_no_change() -> None:
    figures = {headline.key: None for headline in HEADLINES}
    old = {**figures, "reserve_distance_m": {"value": 8000.0, "low": 7900.0, "high": 8100.0}}

    def moved(by: float) -> dict[str, Any]:
        return {**figures, "reserve_distance_m": {
            "value": 8000.0 + by, "low": 7900.0 + by, "high": 8100.0 + by}}  # fmt: skip

    then, nothing = account_of(old), account_of(figures)
    assert changes(then, account_of(moved(4.9))) == []  # of a half-width of 100 m
    (change,) = changes(then, account_of(moved(5.1)))
    assert change.told.figure == Quantity(8005.1, 7905.1, 8105.1)
    assert [one.told.figure for one in changes(then, nothing)] == [None]
    assert [one.old for one in changes(nothing, then)] == [None]


@pytest.mark.slow
def test_several_are_published_in_one_zip_and_recorded(
    sqlite_session: Session, tmp_path: Path
) -> None:
    session_id = bring_in(sqlite_session, tmp_path, "lap-check")
    nobodys = UUID(int=9)
    told: list[UUID] = []
    photos = PhotoFolder(str(tmp_path))
    parts = several_packed(sqlite_session, photos, [nobodys, session_id], "km", told.append)
    with zipfile.ZipFile(io.BytesIO(b"".join(parts))) as packed:
        assert packed.testzip() is None
        names = packed.namelist()
        assert str(nobodys) in packed.read("not-published.txt").decode()
    assert any(name.endswith(".pdf") for name in names)
    assert any(name.endswith("session.ebbline.json") for name in names)
    assert {name.split("/")[0][:3] for name in names} == {"002", "not"}
    assert told == [session_id]
