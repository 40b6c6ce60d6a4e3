"""The lines behind the figures: at 16 m/s past zero at 100 s, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from measure.drive import START_S, fixes, hidden, on_a_straight
from measure.moments import at, noted, taps

from ebbline.measure.curves import curves_of
from ebbline.measure.full_throttle.available import available_power
from ebbline.measure.motion.motion import Motion
from ebbline.measure.recharge.curve import charge_curve
from ebbline.measure.recharge.shown import shown
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment
from ebbline.measure.track.track import build
from ebbline.records.curves import Curves

NOTHING = Run(taps(), None, None)


def drawn(run: Run, zero: Moment | None, charge=None) -> Curves:
    return curves_of(run, zero, charge, None, (), available_power(run, zero, []))


@pytest.fixture(scope="module")
def run() -> Run:
    """16 m/s from the start, unseen from 150 to 170 s."""
    seen = hidden(fixes(on_a_straight(np.full(301, 16.0)), seed=9), 150, 170)
    return Run(taps(), Motion.by_positions(build(seen)), None)


def test_without_anything_every_line_is_empty():
    found = drawn(NOTHING, None)
    assert (found.t_ms.size, found.recharge_t_ms.size, found.log_t_ms.size) == (0, 0, 0)
    assert found.in_gap.size == 0


def test_past_zero_the_way_grows_by_sixteen_metres_a_second(run: Run):
    found = drawn(run, at(100, 0.5))
    t_s = found.t_ms / 1000 - START_S
    truth_m = 16 * (t_s - 100)
    inside = (found.past_zero_m.low <= truth_m) & (truth_m <= found.past_zero_m.high)
    assert inside.mean() > 0.95
    assert found.past_zero_m.value[t_s == 200] == pytest.approx(1600, abs=5)
    assert found.distance_m.value[t_s == 200] == pytest.approx(3200, abs=8)
    assert found.speed_mps.value[t_s == 200] == pytest.approx(16, abs=0.2)
    # by hand: a tap off by 0.5 s is off by 8 m, 16 m at 95 %; close by nothing else adds much
    half_m = float((found.past_zero_m.high - found.past_zero_m.value)[t_s == 110][0])
    assert half_m == pytest.approx(1.96 * 8, rel=0.1)


def test_without_zero_the_way_is_known_and_what_lies_past_it_is_not(run: Run):
    found = drawn(run, None)
    assert np.isfinite(found.distance_m.value).all()
    assert np.isnan(found.past_zero_m.value).all()
    assert np.isnan(found.energy_past_zero_kwh.value).all()


def test_within_a_gap_the_line_has_moments_of_its_own(run: Run):
    """What is read there is the gap's own, as wide as an event in it would be told."""
    found = drawn(run, at(100, 0.0))
    marked_s = found.t_ms[found.in_gap] / 1000 - START_S
    assert marked_s.tolist() == [150, *range(152, 170, 2)]
    assert np.isnan(found.lat[found.in_gap]).tolist() == [False, *[True] * 9]
    placed = run.distances([at(100, 0.0), at(160, 0.0)])
    assert placed is not None
    event = placed.distances.interval(0, 1, placed.timing_m[0])
    (middle,) = np.flatnonzero(marked_s == 160) + np.flatnonzero(found.in_gap)[0]
    way = found.past_zero_m
    read = (way.value[middle], way.low[middle], way.high[middle])
    assert read == pytest.approx((event.value, event.low, event.high), abs=0.5)
    ends = np.flatnonzero(found.in_gap)[0] + np.array([0, 10])
    width_m = way.high - way.low
    assert width_m[middle] > 1.2 * width_m[ends].mean()  # not what lies between its ends' widths
    speed = found.speed_mps
    assert (speed.high - speed.low)[middle] >= (speed.high - speed.low)[ends].max()


def test_places_come_back_to_degrees(run: Run):
    """Due north from 12° N; there a degree of latitude is 110.61 km (WGS 84, from memory)."""
    found = drawn(run, None)
    north_m = (found.lat[-1] - found.lat[0]) * 110_613
    assert north_m == pytest.approx(16 * 300, rel=0.005)


def test_a_charge_at_a_steady_7_kw_takes_in_7_kwh_an_hour():
    power = shown(
        [noted("charge_power", at_s, 7.0, "kW") for at_s in np.arange(0.0, 3601, 300)],
        "charge_power",
        START_S,
    )
    charge = charge_curve(power, shown([], "", START_S), START_S, START_S, START_S + 3600)
    found = drawn(NOTHING, None, charge)
    assert found.recharge_energy_kwh.value[0] == 0
    assert found.recharge_energy_kwh.value[-1] == pytest.approx(7, abs=0.01)
    assert np.allclose(found.recharge_power_kw.value, 7)
    assert found.shown_power_kw.low == pytest.approx(np.full(13, 6.95))
