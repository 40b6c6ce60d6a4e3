"""The grade of a straight from altitudes and statements, and the power it takes."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import START_S, fixes, oval, session

from ebbline.measure import quantity
from ebbline.measure.full_throttle.grade import altitudes_of, grade_at
from ebbline.measure.full_throttle.power import wheels_kw
from ebbline.measure.time.devices import clocks_of, merged
from ebbline.measure.track.track import build
from ebbline.records.setup import Course, Vehicle

LAPS = oval(600)  # some five, northward on the first straight and southward on the second
SEEN = fixes(LAPS, seed=8)
TRACK = build(SEEN)
TILT = 0.02  # all of it rises to the north


def straight(heading_north: bool) -> tuple[float, float]:
    """20 s in the middle of a straight of the third lap."""
    along_m = 4000 + 300 + (0 if heading_north else 1000)
    middle_s = float(np.interp(along_m, LAPS.along_m, LAPS.t_s))
    return START_S + middle_s - 10, START_S + middle_s + 10


def altitudes(altitude_m: np.ndarray):
    recorded = session(SEEN)
    (crumbs,) = recorded.breadcrumbs
    recorded = replace(recorded, breadcrumbs=(replace(crumbs, altitude_m=altitude_m),))
    seen = merged(recorded.breadcrumbs)
    return altitudes_of(seen, clocks_of(recorded, seen)[0])


def test_a_tilted_course_rises_one_way_and_falls_the_other():
    tilted = altitudes(80 + TILT * LAPS.position_m[:, 1])
    up = grade_at(TRACK, tilted, Course(), *straight(heading_north=True))
    down = grade_at(TRACK, tilted, Course(), *straight(heading_north=False))
    assert up.low < 100 * TILT < up.high
    assert down.low < -100 * TILT < down.high
    assert up.low > 0 > down.high


def test_every_lap_makes_it_surer():
    tilted = altitudes(80 + TILT * LAPS.position_m[:, 1])
    few = replace(tilted, t_s=tilted.t_s[:300], altitude_m=tilted.altitude_m[:300])
    at = straight(heading_north=True)
    by_all, by_few = (grade_at(TRACK, each, Course(), *at) for each in (tilted, few))
    assert by_all.high - by_all.low < 0.8 * (by_few.high - by_few.low)


def test_altitudes_that_wander_hold_the_truth_as_often_as_they_say():
    """Drift of 1.7 times 3 m over 60 s; 200 receivers, of which about ten may be wrong."""
    rng = np.random.default_rng(5)
    kept = np.exp(-1 / 60)
    held = 0
    for _ in range(200):
        drift = np.empty(LAPS.t_s.size)
        drift[0] = rng.standard_normal()
        for k in range(1, drift.size):
            drift[k] = kept * drift[k - 1] + np.sqrt(1 - kept**2) * rng.standard_normal()
        seen = altitudes(0.01 * LAPS.position_m[:, 1] + 1.7 * 3 * drift)
        grade = grade_at(TRACK, seen, Course(), *straight(heading_north=True))
        held += grade.low < 1.0 < grade.high
    assert 183 <= held <= 199  # 95 % of 200, give or take two and a half binomial sigmas


def test_without_altitudes_nothing_is_known():
    assert altitudes(np.full(LAPS.t_s.size, np.nan)) is None
    assert grade_at(TRACK, None, Course(), *straight(heading_north=True)) is None


def test_a_surveyed_grade_counts_by_how_sure_it_is():
    stated = Course(full_throttle_grade_pct=1.5, full_throttle_grade_sd_pct=0.05)
    grade = grade_at(TRACK, None, stated, *straight(heading_north=True))
    assert grade.value == pytest.approx(1.5, abs=0.01)
    assert quantity.sd_of(grade) == pytest.approx(0.05, rel=0.01)


def test_a_climb_takes_mass_times_gravity_times_rise_a_second():
    """By hand: 2000 kg · 9.80665 m/s² · 0.01 · 30 m/s = 5.884 kW (standard gravity, CGPM 1901)."""
    level, speed = quantity.normal(20.0, 1.0), quantity.normal(30.0, 0.1)
    car = Vehicle(mass_kg=2000)
    up = wheels_kw(level, speed, quantity.normal(1.0, 0.1), car)
    assert up.value == pytest.approx(25.884, abs=1e-3)
    assert quantity.sd_of(up) == pytest.approx(np.hypot(1.0, np.hypot(0.5884, 0.1177)), rel=1e-3)
    assert wheels_kw(level, speed, quantity.normal(-1.0, 0.1), car).value < level.value
    assert wheels_kw(level, speed, None, car) == level
