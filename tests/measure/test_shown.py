"""What the car's own trip meter showed at the end, and the same end from the other zero."""

import pytest
from measure.drive import START_S, fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.records.evidence import Event, Reading
from ebbline.records.setup import Delay, Protocol

# 18 m/s all the way: zero at 100 s, range 0 at 150 s, reset at 110 s, shut off at 400 s.
MOMENTS = (("zero_soc", 100), ("trip_reset", 110), ("zero_range", 150), ("propulsion_off", 400))


def read(name: str, quantity: str, at_s: float, value: float, unit: str) -> Reading:
    return Reading(name, "phone", round(1000 * (START_S + at_s)), quantity, value, unit, 0.1)


LAST = (
    read("early", "trip_distance", 300, 3.4, "km"),
    read("distance", "trip_distance", 405, 5.3, "km"),
    read("energy", "trip_energy", 406, 0.9, "kWh"),
)


def result(readings=LAST, moments=MOMENTS, **protocol):
    events = tuple(
        Event(f"{kind}-{at_s}", "phone", round(1000 * (START_S + at_s)), kind, text=text)
        for kind, at_s, *said in moments
        for text in (said[0] if said else None,)
    )
    evidence = session(
        fixes(oval(520.0), seed=5),
        events=events,
        readings=readings,
        protocol=Protocol(tap_delay=Delay(0.0, 0.4), **protocol),
    )
    return analyze(evidence).result


def test_the_last_figures_are_given_as_shown_with_their_readings():
    shown = result().shown
    assert shown.trip_distance_m == pytest.approx(5300)
    assert shown.trip_energy_kwh == pytest.approx(0.9)
    assert shown.reading_ids == ("distance", "energy")


def test_the_reset_lies_after_zero_by_the_way_between():
    """10 s at 18 m/s."""
    after = result().shown.reset_after_zero_m
    assert after.low < 180 < after.high
    assert after.value == pytest.approx(180, abs=3)


def test_a_reset_before_zero_is_negative():
    moments = (("trip_reset", 90), *(each for each in MOMENTS if each[0] != "trip_reset"))
    assert result(moments=moments).shown.reset_after_zero_m.value == pytest.approx(-180, abs=3)


def test_miles_are_told_in_metres():
    """3.3 mi of 1609.344 m (NIST SP 811)."""
    shown = result((read("d", "trip_distance", 405, 3.3, "mi"),)).shown
    assert shown.trip_distance_m == pytest.approx(3.3 * 1609.344)
    assert shown.trip_energy_kwh is None


def test_what_was_read_after_a_restart_or_on_the_charger_is_not_of_this_end():
    later = read("later", "trip_distance", 500, 7.0, "km")
    restarted = (*MOMENTS, ("restart", 450, "succeeded"), ("propulsion_off", 510))
    first = result((*LAST, later), restarted, which_end="first").shown
    assert first.reading_ids == ("distance", "energy")
    charged = (*MOMENTS, ("plug_in", 450))
    assert result((*LAST, later), charged).shown.reading_ids == ("distance", "energy")
    both = result((*LAST, later), restarted).shown
    assert both.reading_ids == ("later", "energy")


def test_the_same_end_is_counted_from_the_other_zero():
    """By hand: 300 s from 0 %, 250 s from range 0, at 18 m/s."""
    reserve = result().reserve
    assert reserve.distance_m.low < 5400 < reserve.distance_m.high
    assert reserve.from_zero_range.distance_m.low < 4500 < reserve.from_zero_range.distance_m.high
    assert reserve.from_zero_soc is None
    other = result(zero_basis="zero_range").reserve
    assert other.from_zero_range is None
    assert other.from_zero_soc.distance_m.value == pytest.approx(5400, abs=5)


def test_nothing_noted_is_nothing_shown():
    assert result(()).shown is None
