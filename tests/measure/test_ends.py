"""The end of the reserve: one shut-off, several, and what a restart makes of them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from measure.drive import START_S, fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.measure.reserve.ends import Ends, find_ends
from ebbline.measure.time.moments import Events, Moment, TimedEvent
from ebbline.records.evidence import Event
from ebbline.records.setup import Delay, Protocol

SD_S = 0.4


def tap(name: str, kind: str, at_s: float, text: str | None = None) -> TimedEvent:
    event = Event(name, "phone", round(1000 * at_s), kind, text=text)
    return TimedEvent(event, Moment(at_s, SD_S))


ZERO = tap("zero", "zero_soc", 100)
RESTARTED = (
    ZERO,
    tap("off", "propulsion_off", 700),
    tap("still", "standstill", 760),
    tap("again", "restart", 800, "succeeded"),
    tap("off again", "propulsion_off", 900),
    tap("still again", "standstill", 950),
)


def ends_of(*taps: TimedEvent, **protocol):
    ends, findings = find_ends(Events.in_order(taps), Protocol(**protocol), math.inf)
    names = tuple(end and end.event.id for end in (ends.counts, ends.first, ends.last))
    return names, {finding.code for finding in findings}


def test_one_shut_off_is_the_end_and_nothing_is_asked():
    assert ends_of(*RESTARTED[:3]) == (("off", None, None), set())


def test_after_a_restart_that_succeeded_both_are_kept_and_the_choice_is_asked():
    """A car that drove on could still drive: the last counts until somebody says otherwise."""
    assert ends_of(*RESTARTED) == (("off again", "off", "off again"), {"two_ends"})


@pytest.mark.parametrize(("chosen", "counts"), [("first", "off"), ("last", "off again")])
def test_the_protocol_chooses_between_two_ends(chosen, counts):
    assert ends_of(*RESTARTED, which_end=chosen) == ((counts, "off", "off again"), set())


def test_a_restart_that_failed_leaves_one_end():
    taps = (*RESTARTED[:3], tap("again", "restart", 800, "failed"))
    assert ends_of(*taps) == (("off", None, None), set())


def test_two_shut_offs_without_a_restart_are_told():
    """The second tap comes 200 s later: no two people tap one moment so far apart."""
    taps = (*RESTARTED[:3], RESTARTED[4])
    assert ends_of(*taps) == (("off", None, None), {"end_tapped_again"})
    assert ends_of(*taps, which_end="last") == (("off again", None, None), set())


def test_two_taps_of_one_shut_off_are_one():
    """By hand: two taps of 0.4 s each are of one moment up to 1.96 * 0.566 = 1.1 s apart."""
    assert ends_of(ZERO, RESTARTED[1], tap("too", "propulsion_off", 701.0))[1] == set()
    apart = ends_of(ZERO, RESTARTED[1], tap("too", "propulsion_off", 701.2))
    assert apart == (("off", None, None), {"end_tapped_again"})


def test_a_restart_without_a_second_end_is_told():
    assert ends_of(*RESTARTED[:4]) == (("off", None, None), {"no_end_after_restart"})


def test_a_stop_on_the_way_is_no_end_of_its_own():
    """Where standstill ends it, the last one before a restart does, or the last of all."""
    taps = (ZERO, tap("photo", "standstill", 300), *RESTARTED[1:])
    found, codes = ends_of(*taps, reserve_end="standstill")
    assert found == ("still again", "still", "still again")
    assert codes == {"two_ends"}


def test_nothing_ends_a_reserve_once_the_car_is_plugged_in():
    found, _ = find_ends(Events.in_order(RESTARTED), Protocol(), 650.0)
    assert found == Ends()


def test_both_reserves_are_given_and_no_mile_after_the_restart_joins_silently():
    """18 m/s all the way after a start over 12 s: 18 (t - 6) metres after t seconds."""
    protocol = Protocol(tap_delay=Delay(0.0, 0.4))
    events = tuple(
        Event(name, "phone", round(1000 * (START_S + at_s)), kind, text=text)
        for name, kind, at_s, text in (
            ("zero", "zero_soc", 100, None),
            ("off", "propulsion_off", 300, None),
            ("again", "restart", 310, "succeeded"),
            ("off again", "propulsion_off", 500, None),
        )
    )
    evidence = session(fixes(oval(520.0), seed=5), events=events, protocol=protocol)
    result = analyze(evidence).result
    reserve = result.reserve
    assert reserve.end_event_id == reserve.last_end.event_id == "off again"
    assert reserve.first_end.event_id == "off"
    assert reserve.distance_m == reserve.last_end.distance_m
    assert reserve.first_end.distance_m.low < 18 * 200 < reserve.first_end.distance_m.high
    assert reserve.last_end.distance_m.low < 18 * 400 < reserve.last_end.distance_m.high
    assert "two_ends" in {finding.code for finding in result.findings}
    chosen = analyze(replace(evidence, protocol=replace(protocol, which_end="first"))).result
    assert chosen.reserve.distance_m == chosen.reserve.first_end.distance_m
    assert "two_ends" not in {finding.code for finding in chosen.findings}
    left_m = {entry.event_id: entry.left_m.value for entry in chosen.timeline}
    assert left_m["off again"] == 0.0
