"""Departures from the protocol: a run at 18 m/s, which is 64.8 km/h, against several plans."""

from __future__ import annotations

import numpy as np
import pytest
from measure.drive import fixes, on_a_straight
from measure.moments import noted, taps

from ebbline.measure.departures import departures_of
from ebbline.measure.motion.motion import Motion
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Events
from ebbline.measure.track.track import build
from ebbline.records.setup import Protocol


@pytest.fixture(scope="module")
def motion() -> Motion:
    speed = np.concatenate([np.linspace(0, 18, 13), np.full(200, 18.0)])
    return Motion.by_positions(build(fixes(on_a_straight(speed), seed=5)))


def outside(motion: Motion | None, events: Events, *band_kmh: float) -> list[str]:
    low, high = band_kmh
    plan = Protocol(speed_band_kmh=(low, high))
    return [said.message for said in departures_of(Run(events, motion, None), [], plan)]


def test_a_drive_inside_its_band_departs_from_nothing(motion: Motion):
    assert outside(motion, taps(), 50, 90) == []
    assert outside(None, taps(), 30, 50) == []


def test_driving_faster_than_the_band_is_told_with_how_long_and_how_fast(motion: Motion):
    (message,) = outside(motion, taps(), 30, 50)
    assert "30 km/h to 50 km/h" in message
    assert "s faster (at 65 km/h" in message
    assert "slower" not in message


def test_a_slow_drive_is_told_until_the_car_holds_back_by_itself(motion: Motion):
    (message,) = outside(motion, taps(), 80, 100)
    assert "slower (at 65 km/h" in message
    assert outside(motion, taps(("power_limited", 10.0)), 80, 100) == []


def test_a_departure_shorter_than_fifteen_seconds_is_on_its_way_into_the_band(motion: Motion):
    """From rest it takes 12 s to 18 m/s: under 40 km/h for 7 s."""
    assert outside(motion, taps(), 40, 90) == []


def test_full_throttle_is_outside_any_band(motion: Motion):
    assert outside(motion, taps(("floored_on", 0.0), ("floored_off", 213.0)), 30, 50) == []


def started(*shown: tuple[float, float], stepped: float | None = None) -> list[str]:
    """What is said of a start planned at 5 % when so many % were shown at so many seconds."""
    readings = [noted("soc", at_s, pct, "%", 1.0) for at_s, pct in shown]
    events = taps() if stepped is None else taps(("soc_step", 5.0, stepped))
    found = departures_of(Run(events, None, None), readings, Protocol(start_soc_pct=5.0))
    return [said.message for said in found]


def test_a_start_as_planned_departs_from_nothing():
    """As near as the display can show: 6 % may be 5.5, and the plan is held to a per cent."""
    assert started((10, 5.0)) == []
    assert started((10, 6.0)) == []
    assert started() == []


def test_another_start_than_planned_is_told_by_the_first_noted():
    (message,) = started((60, 5.0), (10, 9.0))
    assert "5 % shown; the first noted is 9 %" in message


def test_a_step_tapped_before_any_reading_is_the_first():
    """The display falls to 8 %: from 9 to 8."""
    (message,) = started((10, 5.0), stepped=8.0)
    assert "the first noted is 8.5 %" in message
