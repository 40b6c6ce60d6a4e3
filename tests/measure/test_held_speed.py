"""A speed that somebody asks for: last held at, first not held at."""

import numpy as np
import pytest
from measure.drive import START_S, Drive, fixes

from ebbline.measure.full_throttle.held_speed import held_speed_of
from ebbline.measure.full_throttle.limits import limits_of
from ebbline.measure.motion.motion import Motion
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Events, Moment, TimedEvent
from ebbline.measure.track.track import build
from ebbline.records.evidence import Event
from ebbline.records.setup import Protocol, Vehicle

ZERO = Moment(START_S + 40.0, 0.4)
# 24 m/s from 72 s to 100 s with the throttle floored, 14 m/s in between, then 19 m/s from 190 s on.
AT_S = [0, 60, 72, 100, 112, 180, 190, 220, 240]
SPEED_MPS = [14, 14, 24, 24, 14, 14, 19, 19, 14]
FLOORED = (("floored_on", 60), ("floored_off", 101), ("floored_on", 180), ("floored_off", 221))


def tap(kind: str, at_s: float, value: float | None = None, unit: str | None = None) -> TimedEvent:
    event = Event(
        f"{kind}-{at_s}", "phone", round(1000 * (START_S + at_s)), kind, None, value, unit
    )
    return TimedEvent(event, Moment(START_S + at_s, 0.4))


def driven(*more: TimedEvent) -> Run:
    t_s = np.arange(0.0, 260.0)
    speed = np.interp(t_s, AT_S, SPEED_MPS)
    along_m = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2)])
    nowhere = np.zeros_like(t_s)
    drive = Drive(
        t_s, np.column_stack([nowhere, along_m]), np.column_stack([nowhere, speed]), along_m
    )
    events = Events.in_order([*(tap(kind, at) for kind, at in FLOORED), *more])
    return Run(events, Motion.by_positions(build(fixes(drive, seed=3))), None)


def asked(run: Run, held_kmh: float | None):
    limits, _ = limits_of(run, ZERO, Vehicle(), lambda from_s, to_s: None)
    found, findings = held_speed_of(run, ZERO, limits, Protocol(held_speed_kmh=held_kmh))
    return found, [finding.code for finding in findings]


def test_last_held_and_first_not_held_are_placed_past_zero():
    """By hand, 22 m/s: the speed passes 22 at 69.6 s and again at 102.4 s; from zero at 40 s the
    car then has come 20 s at 14, 12 s at 19 in the mean, 28 s at 24 and 2.4 s at 23: 1,235 m. The
    stretch at 19 m/s has its middle near 205 s: 282 + 672 + 2.4 * 23 + 9.6 * 18 + 68 * 14 + 10 *
    16.5 + 15 * 19 m further than zero's 20 s at 14.
    """
    found, codes = asked(driven(), 22 * 3.6)
    assert codes == []
    assert found.speed_mps == pytest.approx(22)
    held, failed = found.last_held, found.first_not_held
    assert held.t_ms / 1000 - START_S == pytest.approx(102.4, abs=1.5)
    by_hand_m = 20 * 14 + 12 * 19 + 28 * 24 + 2.4 * 23
    assert held.past_zero_m.value == pytest.approx(by_hand_m, abs=40)
    assert held.past_zero_m.low < held.past_zero_m.value < held.past_zero_m.high
    assert failed.t_ms / 1000 - START_S == pytest.approx(205, abs=5)
    later_m = 20 * 14 + 12 * 19 + 28 * 24 + 12 * 19 + 68 * 14 + 10 * 16.5 + 15 * 19
    assert failed.past_zero_m.value == pytest.approx(later_m, abs=100)
    assert held.energy_past_zero_kwh is None  # no reading tells of energy


def test_a_speed_that_was_never_reached_is_said():
    found, codes = asked(driven(), 100.0)
    assert found.last_held is None
    assert codes == ["speed_never_held"]


def test_a_speed_that_never_failed_is_said():
    found, codes = asked(driven(), 15 * 3.6)
    assert found.first_not_held is None
    assert codes == ["speed_never_failed"]


def test_a_cap_that_the_car_showed_below_the_speed_is_not_held():
    found, _ = asked(driven(tap("speed_capped", 150, 45, "mph")), 22 * 3.6)
    assert found.first_not_held.t_ms == round(1000 * (START_S + 150))


def test_a_cap_above_the_speed_says_nothing_against_it():
    found, _ = asked(driven(tap("speed_capped", 90, 55, "mph")), 22 * 3.6)
    assert found.first_not_held.t_ms / 1000 - START_S == pytest.approx(205, abs=5)


def test_nobody_asked_is_no_answer():
    assert asked(driven(), None) == (None, [])
