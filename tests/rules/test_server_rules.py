"""The server's rules against the table that the browser's are held to as well."""

from __future__ import annotations

from typing import Any

import pytest
from rules.cases import CREW, STANDING, TICKS, ZERO, Case, event, name_of, protocol, reading

from ebbline.exchange.facts import ticked_items
from ebbline.exchange.session_file import to_session
from ebbline.measure.reserve.span import find_span, find_zero, second_zeros
from ebbline.measure.standing import current_events, current_readings
from ebbline.measure.time.devices import clocks_of
from ebbline.measure.time.moments import Events
from ebbline.measure.time.timed_records import standing_records, timed_events
from ebbline.records.setup import Protocol


def read(**parts: Any) -> Any:
    return to_session({"session": {"id": "s"}, **parts})


def timed(case: Case) -> tuple[Events, Protocol]:
    session = read(events=[event(one) for one in case["events"]], protocol=protocol(case))
    clocks, _ = clocks_of(session, {})
    records, _ = standing_records(session, clocks)
    return timed_events(records, clocks, session.protocol), session.protocol


@pytest.mark.parametrize("case", STANDING, ids=name_of)
def test_the_same_events_stand(case: Case) -> None:
    found, _ = current_events(read(events=[event(one) for one in case["records"]]).events)
    assert sorted(one.id for one in found) == sorted(case["stand"])


@pytest.mark.parametrize("case", STANDING, ids=name_of)
def test_the_same_readings_stand(case: Case) -> None:
    found, _ = current_readings(read(readings=[reading(one) for one in case["records"]]).readings)
    assert sorted(one.id for one in found) == sorted(case["stand"])


@pytest.mark.parametrize("case", ZERO, ids=name_of)
def test_the_same_zero_is_found(case: Case) -> None:
    found = find_zero(*timed(case))
    assert (found and {"basis": found[0], "t_ms": found[1].t_s * 1000}) == case["zero"]


@pytest.mark.parametrize("case", ZERO, ids=name_of)
def test_the_same_taps_of_a_zero_are_second_ones_and_told(case: Case) -> None:
    events, stated = timed(case)
    assert [one.event.id for one in second_zeros(events)] == case["again"]
    _, findings = find_span(events, stated)
    told = [finding.where for finding in findings if finding.code == "zero_tapped_again"]
    assert [where.split(" and ")[1] for where in told] == case["again"]


@pytest.mark.parametrize("case", CREW, ids=name_of)
def test_a_crews_records_stand_and_count_the_same(case: Case) -> None:
    session = read(events=[event(one) for one in case["events"]], devices=case["devices"],
                   protocol=protocol(case))  # fmt: skip
    clocks, _ = clocks_of(session, {})
    records, _ = standing_records(session, clocks)
    assert sorted(one.id for one in records.events) == case["stand"]
    found = find_zero(timed_events(records, clocks, session.protocol), session.protocol)
    assert (found and {"basis": found[0], "t_ms": round(found[1].t_s * 1000)}) == case["zero"]


@pytest.mark.parametrize("case", TICKS, ids=name_of)
def test_the_same_items_are_ticked(case: Case) -> None:
    assert sorted(ticked_items(case["events"])) == case["ticked"]
