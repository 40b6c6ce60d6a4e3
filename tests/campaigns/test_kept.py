"""A comparison is kept by what it was worked out from, and the list tells what no longer holds."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID

import orjson
import pytest
from exchange.documents import T_MS, a_run
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ebbline import store
from ebbline.campaigns import kept
from ebbline.campaigns.definitions import change_campaign, delete_campaign, make_campaign
from ebbline.campaigns.kept import comparison_of, lines_of
from ebbline.campaigns.publications import publications_of, record_publication
from ebbline.errors import ConflictError
from ebbline.records.campaign import Definition, SetAside
from ebbline.report.figures import Units
from ebbline.sessions.files.session_files import import_file
from ebbline.sessions.overview.renewal import renew
from ebbline.sessions.records.uploads import Upload, store_records
from ebbline.store.models import ComparisonRow
from ebbline.store.photos import PhotoFolder

RUNS = [a_run(), a_run("0b7a116f-6d3e-4b53-9d6a-0c8f4f1f1d36", "Sample car B", 77)]
ONE, OTHER = (UUID(run["session"]["id"]) for run in RUNS)


@pytest.fixture
def db_session(sqlite_url: str, tmp_path: Path) -> Iterator[Session]:
    engine = store.open_engine(sqlite_url)
    with Session(engine) as db_session:
        for run in RUNS:
            import_file(db_session, PhotoFolder(str(tmp_path)), orjson.dumps(run), T_MS)
        renewed(db_session)
        yield db_session
    engine.dispose()


def renewed(db_session: Session) -> None:
    renew(db_session, lambda: T_MS, for_s=60)


def corrected(db_session: Session, session_id: UUID, number: int = 0) -> None:
    """A later end than was noted."""
    later = {"id": f"later {number}", "device": "desk", "t_ms": T_MS + 500_000,
             "kind": "propulsion_off", "corrects": "propulsion_off"}  # fmt: skip
    assert store_records(db_session, session_id, Upload(events=[later]), T_MS).refused == []


def differs(db_session: Session) -> bool | None:
    (line,) = lines_of(db_session)
    return line.published_differs


def test_it_is_worked_out_once_for_the_same_inputs(
    db_session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_campaign(db_session, Definition("Winter", session_ids=(ONE, OTHER)), T_MS)
    times = []
    by = kept.comparison_by

    def counted(*given: Any) -> Any:
        times.append(1)
        return by(*given)

    monkeypatch.setattr(kept, "comparison_by", counted)
    first = comparison_of(db_session, made.id)
    assert comparison_of(db_session, made.id) == first
    record_publication(db_session, made.id, None, None, T_MS)
    publications_of(db_session, made.id, Units("km"))
    assert len(times) == 1

    renamed = Definition("Cold", session_ids=(ONE, OTHER))
    change_campaign(db_session, made.id, 1, renamed, T_MS)
    comparison_of(db_session, made.id)
    assert len(times) == 1  # a name counts for nothing
    corrected(db_session, ONE)
    assert comparison_of(db_session, made.id)["behind"] == [str(ONE)]
    renewed(db_session)
    again = comparison_of(db_session, made.id)
    assert again["behind"] == []
    assert again["sessions"] != first["sessions"]
    without = Definition("Cold", session_ids=(OTHER,), left_out=(SetAside(ONE, "wet"),))
    change_campaign(db_session, made.id, 2, without, T_MS)
    assert [one["session_id"] for one in comparison_of(db_session, made.id)["sessions"]] == [
        str(OTHER)
    ]
    assert len(times) == 4
    assert db_session.scalar(select(func.count()).select_from(ComparisonRow)) == 1


def test_the_list_tells_whether_what_was_published_still_holds(db_session: Session) -> None:
    made = make_campaign(db_session, Definition("Winter", session_ids=(ONE, OTHER)), T_MS)
    (line,) = lines_of(db_session)
    assert (line.published_at, line.published_differs) == (None, None)
    record_publication(db_session, made.id, None, None, T_MS)
    (line,) = lines_of(db_session)
    assert (line.published_at, line.published_differs) == ("2026-03-02T14:00:00+00:00", False)

    corrected(db_session, ONE)
    assert differs(db_session) is None  # nobody has compared it since
    comparison_of(db_session, made.id)
    assert differs(db_session) is None  # its figures are being renewed
    renewed(db_session)
    assert differs(db_session) is None
    comparison_of(db_session, made.id)
    assert differs(db_session) is True
    record_publication(db_session, made.id, None, None, T_MS + 1)  # the erratum is out
    assert differs(db_session) is False


def test_nothing_compared_is_not_published(db_session: Session) -> None:
    for definition, why in (
        (Definition("Empty"), "this campaign compares no session yet"),
        (Definition("Unlike", reserve_end="standstill", session_ids=(ONE,)),
         "none of its sessions can be compared"),
    ):  # fmt: skip
        made = make_campaign(db_session, definition, T_MS)
        with pytest.raises(ConflictError, match=f"nothing to publish: {why}"):
            record_publication(db_session, made.id, None, None, T_MS)
        assert publications_of(db_session, made.id, Units("km")) == []
        delete_campaign(db_session, made.id)  # with the comparison kept of it
    assert lines_of(db_session) == []
