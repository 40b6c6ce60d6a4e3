"""What a campaign said when it was published stays, and what changed since is told."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from exchange.documents import T_MS
from jsonschema import Draft202012Validator
from sessions.test_publications import bring_in, move_zero
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ebbline import store
from ebbline.campaigns.definitions import (
    change_campaign,
    delete_campaign,
    make_campaign,
)
from ebbline.campaigns.kept import comparison_of
from ebbline.campaigns.publications import publications_of, record_publication
from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.exchange.json_schema.documents import SCHEMAS
from ebbline.records.campaign import Definition, SetAside
from ebbline.report.figures import Units
from ebbline.sessions.overview.renewal import renew
from ebbline.sessions.publications.freezing import frozen
from ebbline.sessions.publications.since import Publication
from ebbline.store.models import EventRow, PublicationRow, ReadingRow, SessionRow

pytestmark = pytest.mark.slow

KM = Units("km")


@pytest.fixture
def db_session(sqlite_url: str) -> Iterator[Session]:
    engine = store.open_engine(sqlite_url)
    with Session(engine) as db_session:
        yield db_session
    engine.dispose()


@pytest.fixture
def ids(db_session: Session, tmp_path: Path) -> tuple[UUID, UUID]:
    full, early = (bring_in(db_session, tmp_path, name) for name in ("full-run", "early-shutdown"))
    return full, early


def renewed(db_session: Session) -> None:
    renew(db_session, lambda: T_MS, for_s=60)


def only(db_session: Session, campaign_id: UUID, units: Units = KM) -> Publication:
    (found,) = publications_of(db_session, campaign_id, units)
    return found


def test_statement_figures_and_definition_are_frozen_and_a_correction_is_told(
    db_session: Session, ids: tuple[UUID, UUID]
) -> None:
    full, _ = ids
    campaign = make_campaign(
        db_session, Definition("Winter", session_ids=ids, tested_by="Track crew A"), T_MS
    )
    with pytest.raises(ConflictError, match="2 of its sessions are not worked out"):
        record_publication(db_session, campaign.id, None, None, T_MS)
    renewed(db_session)
    then = comparison_of(db_session, campaign.id)
    made = record_publication(db_session, campaign.id, "alex", "the film", T_MS)
    stands = only(db_session, campaign.id)
    assert (stands.by, stands.note, stands.reasons, stands.changed) == ("alex", "the film", [], [])
    assert (stands.reworded, stands.erratum, stands.comparable) == ([], None, True)
    assert stands.summary["statement"] == then["reserve_model"]["statement"]

    move_zero(db_session, full, 60_000)
    waiting = only(db_session, campaign.id)
    assert (waiting.comparable, waiting.erratum) == (False, None)
    renewed(db_session)
    changed = only(db_session, campaign.id)
    assert changed.reasons == ["evidence"]
    energy = next(one for one in changed.changed if one.key == f"{full}.reserve_kwh")
    row = next(one for one in comparison_of(db_session, campaign.id)["sessions"]
               if one["session_id"] == str(full))  # fmt: skip
    old = next(one for one in then["sessions"] if one["session_id"] == str(full))
    assert (energy.old, energy.new) == (_quantity(old), _quantity(row))
    assert changed.erratum is not None
    for said in ("figures of \u201cWinter\u201d", "evidence was added or corrected",
                 KM.text("energy", energy.old), KM.text("energy", energy.new),
                 f"{energy.of}: distance past zero is"):  # fmt: skip
        assert said in changed.erratum
    assert "\u00a0mi" in str(only(db_session, campaign.id, Units("mi")).erratum)
    document = json.loads(frozen(db_session, made))
    assert {**document["comparison"], "behind": []} == then
    described = Draft202012Validator(SCHEMAS["published-campaign"]())
    assert [error.message for error in described.iter_errors(document)] == []
    assert document["definition"]["tested_by"] == "Track crew A"
    assert document["definition"]["session_ids"] == [str(one) for one in ids]

    record_publication(db_session, campaign.id, None, None, T_MS + 1)  # the erratum is out
    last, first = publications_of(db_session, campaign.id, KM)
    assert (last.erratum, first.summary) == (None, stands.summary)


def _quantity(row: dict[str, Any]) -> Any:
    from ebbline.records.result import Quantity

    return Quantity(**row["reserve_kwh"])


def test_what_is_left_out_or_counted_otherwise_is_told_by_name(
    db_session: Session, ids: tuple[UUID, UUID]
) -> None:
    full, early = ids
    renewed(db_session)
    campaign = make_campaign(db_session, Definition("Winter", session_ids=ids), T_MS)
    record_publication(db_session, campaign.id, None, None, T_MS)
    renamed = Definition("Cold", "other notes", session_ids=ids, tested_by="Track crew B")
    change_campaign(db_session, campaign.id, 1, renamed, T_MS)
    assert only(db_session, campaign.id).reasons == []  # no reader counts by these

    without = Definition("Cold", session_ids=(full,), left_out=(SetAside(early, "It was wet."),))
    change_campaign(db_session, campaign.id, 2, without, T_MS)
    told = only(db_session, campaign.id)
    assert told.reasons == ["choices"]
    saying = next(one for one in told.reworded if one.key == f"session {early}")
    assert str(saying.old).endswith("is compared")
    assert str(saying.new).endswith("is left out (It was wet)")
    assert saying.new is not None
    assert f"Now {saying.new}, where we had written" in str(told.erratum)
    assert not any(one.key.startswith(str(early)) for one in told.changed)

    counted = Definition("Cold", zero_basis="zero_range", session_ids=ids)
    change_campaign(db_session, campaign.id, 3, counted, T_MS)
    told = only(db_session, campaign.id)
    assert "count from" in str(told.erratum)
    assert [one.key for one in told.reworded].count("zero_basis") == 1


def test_a_published_campaign_stays_and_another_goes_without_touching_what_was_recorded(
    db_session: Session, ids: tuple[UUID, UUID]
) -> None:
    renewed(db_session)
    kept, gone = (make_campaign(db_session, Definition(name, session_ids=ids), T_MS)
                  for name in ("Kept", "Gone"))  # fmt: skip
    record_publication(db_session, kept.id, None, None, T_MS)

    def held() -> list[int | None]:
        tables = (SessionRow, EventRow, ReadingRow, PublicationRow)
        return [db_session.scalar(select(func.count()).select_from(one)) for one in tables]

    before = held()
    with pytest.raises(ConflictError, match="recorded as published, last on 2026-03-02"):
        delete_campaign(db_session, kept.id)
    delete_campaign(db_session, gone.id)
    assert held() == before
    assert len(publications_of(db_session, kept.id, KM)) == 1
    with pytest.raises(NotFoundError):
        publications_of(db_session, gone.id, KM)
    with pytest.raises(InputError, match="note: a NUL"):
        record_publication(db_session, kept.id, None, "a\x00", T_MS)
    with pytest.raises(NotFoundError, match="no publication"):
        frozen(db_session, gone.id)
