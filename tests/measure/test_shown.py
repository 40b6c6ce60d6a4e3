"""What the car's own trip meter showed at the end, and the same end from the other zero."""

import pytest
from measure.drive import fixes, oval
from measure.moments import noted, taps

from ebbline.measure.motion.motion import Motion
from ebbline.measure.reserve.reserve import reserve_of
from ebbline.measure.reserve.shown import shown_of
from ebbline.measure.reserve.span import find_span
from ebbline.measure.run import Run
from ebbline.measure.track.track import build
from ebbline.records.result import Reserve, Shown
from ebbline.records.setup import Pack, Protocol

# 18 m/s all the way: zero at 100 s, range 0 at 150 s, reset at 110 s, shut off at 400 s.
MOMENTS = (
    ("zero_soc", 100.0),
    ("trip_reset", 110.0),
    ("zero_range", 150.0),
    ("propulsion_off", 400.0),
)
LAST = (
    noted("trip_distance", 300, 3.4, "km"),
    noted("trip_distance", 405, 5.3, "km"),
    noted("trip_energy", 406, 0.9, "kWh"),
)
LATER = noted("trip_distance", 500, 7.0, "km")


@pytest.fixture(scope="module")
def motion() -> Motion:
    return Motion.by_positions(build(fixes(oval(520.0), seed=5)))


def shown(readings=LAST, moments=MOMENTS, motion=None, **protocol) -> Shown | None:
    events = taps(*moments)
    span, _ = find_span(events, Protocol(**protocol))
    return shown_of(Run(events, motion, None), span, list(readings))


def reserve(motion: Motion, **protocol) -> Reserve:
    events = taps(*MOMENTS)
    span, _ = find_span(events, Protocol(**protocol))
    return reserve_of(Run(events, motion, None), span, Pack())


def test_the_last_figures_are_given_as_shown_with_their_readings():
    found = shown()
    assert found.trip_distance_m == pytest.approx(5300)
    assert found.trip_energy_kwh == pytest.approx(0.9)
    assert found.reading_ids == ("trip_distance-405", "trip_energy-406")
    assert found.reset_after_zero_m is None  # nothing tells how far it came


def test_the_reset_lies_after_zero_by_the_way_between(motion: Motion):
    """10 s at 18 m/s."""
    after = shown(motion=motion).reset_after_zero_m
    assert after.low < 180 < after.high
    assert after.value == pytest.approx(180, abs=3)


def test_a_reset_before_zero_is_negative(motion: Motion):
    moments = (("trip_reset", 90.0), *(each for each in MOMENTS if each[0] != "trip_reset"))
    found = shown(moments=moments, motion=motion)
    assert found.reset_after_zero_m.value == pytest.approx(-180, abs=3)


def test_miles_are_told_in_metres():
    """3.3 mi of 1609.344 m (NIST SP 811)."""
    found = shown((noted("trip_distance", 405, 3.3, "mi"),))
    assert found.trip_distance_m == pytest.approx(3.3 * 1609.344)
    assert found.trip_energy_kwh is None


def test_what_was_read_after_a_restart_or_on_the_charger_is_not_of_this_end():
    of_this_end = ("trip_distance-405", "trip_energy-406")
    restarted = (*MOMENTS, ("restart", 450.0, "succeeded"), ("propulsion_off", 510.0))
    assert shown((*LAST, LATER), restarted, which_end="first").reading_ids == of_this_end
    assert shown((*LAST, LATER), (*MOMENTS, ("plug_in", 450.0))).reading_ids == of_this_end
    both = shown((*LAST, LATER), restarted)
    assert both.reading_ids == ("trip_distance-500", "trip_energy-406")


def test_the_same_end_is_counted_from_the_other_zero(motion: Motion):
    """By hand: 300 s from 0 %, 250 s from range 0, at 18 m/s."""
    found = reserve(motion)
    assert found.distance_m.low < 5400 < found.distance_m.high
    assert found.from_zero_range.distance_m.low < 4500 < found.from_zero_range.distance_m.high
    assert found.from_zero_soc is None
    other = reserve(motion, zero_basis="zero_range")
    assert other.from_zero_range is None
    assert other.from_zero_soc.distance_m.value == pytest.approx(5400, abs=5)


def test_nothing_noted_is_nothing_shown():
    assert shown(()) is None
