"""What the car still gave at full throttle, and when its speed is to be read with care."""

import numpy as np
import pytest
from measure.drive import START_S, Drive, fixes

from ebbline.measure.full_throttle.limits import limits_of
from ebbline.measure.motion.motion import Motion
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Events, Moment, TimedEvent
from ebbline.measure.track.track import build
from ebbline.records.evidence import Event
from ebbline.records.setup import Vehicle


def northward(at_s: list[float], speed_mps: list[float], seed: int) -> Run:
    """A straight drive through these speeds, at full throttle from 60 s until 100 s."""
    t_s = np.arange(0.0, 140.0)
    speed = np.interp(t_s, at_s, speed_mps)
    along_m = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2)])
    nowhere = np.zeros_like(t_s)
    drive = Drive(
        t_s, np.column_stack([nowhere, along_m]), np.column_stack([nowhere, speed]), along_m
    )
    return Run(
        Events((tap("floored_on", 60), tap("floored_off", 100))),
        Motion.by_positions(build(fixes(drive, seed=seed))),
        None,
    )


def tap(kind: str, at_s: float) -> TimedEvent:
    event = Event(kind, "phone", round(1000 * (START_S + at_s)), kind)
    return TimedEvent(event, Moment(START_S + at_s, 0.4))


def limits(run: Run):
    found, findings = limits_of(run, None, Vehicle(), lambda from_s, to_s: None)
    (limit,) = found
    return limit, {finding.code: finding.message for finding in findings}


@pytest.mark.parametrize("seed", range(3))
def test_a_speed_held_to_the_end_needs_no_care(seed: int):
    limit, codes = limits(northward([0, 60, 72, 99, 120], [14, 14, 24, 24, 14], seed))
    assert limit.speed_mps.low < 24 < limit.speed_mps.high
    assert set(codes) == {"no_road_load"}


@pytest.mark.parametrize("seed", range(3))
def test_a_speed_that_was_held_and_then_fell_is_told_with_how_much(seed: int):
    limit, codes = limits(northward([0, 60, 66, 82, 97, 140], [14, 14, 19, 19, 13, 8], seed))
    assert limit.speed_mps.value == pytest.approx(19, abs=0.3)
    assert set(codes) == {"no_road_load", "fell_again"}
    assert "held 68 km/h" in codes["fell_again"]


def test_a_speed_that_never_settled_is_told():
    limit, codes = limits(northward([0, 60, 100, 140], [14, 14, 24, 24], 0))
    assert limit.speed_mps is None
    assert set(codes) == {"no_road_load", "still_changing"}
