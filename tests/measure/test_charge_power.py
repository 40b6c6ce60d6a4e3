"""Power while charging between its readings, and the trickle, worked by hand.

2 kW shown at 100 and 200 s, 40 kW at 300 and 400 s, in whole kW.
"""

import math

import numpy as np
import pytest
from measure.drive import START_S
from measure.moments import at, noted

from ebbline.measure.recharge.curve import charge_curve
from ebbline.measure.recharge.phases import find_phases
from ebbline.measure.recharge.power_between import power_band, power_steps
from ebbline.measure.recharge.shown import Shown, shown
from ebbline.measure.recharge.trickle import Trickle, trickle_of


def power(*readings: tuple[float, float]) -> Shown:
    each = [noted("charge_power", at_s, kw, "kW", 1.0) for at_s, kw in readings]
    return shown(each, "charge_power", START_S)


RISE = power((100, 2.0), (200, 2.0), (300, 40.0), (400, 40.0))
FULL = power((100, 40.0), (200, 40.0))


def band(readings: Shown, at_s: float) -> tuple[float, float, float]:
    found = power_band(readings, find_phases(readings), np.array([START_S + at_s]))
    return found.value[0], found.low[0], found.high[0]


def test_on_one_level_power_is_what_both_readings_allow():
    assert band(RISE, 150) == pytest.approx((2, 1.5, 2.5))


def test_across_a_jump_power_may_be_anything_from_one_level_to_the_other():
    assert band(RISE, 250) == pytest.approx((21, 1.5, 40.5))


def test_before_the_first_reading_the_trickle_is_held_and_full_power_may_not_have_begun():
    assert band(RISE, 50) == pytest.approx((2, 1.5, 2.5))
    assert band(FULL, 50) == pytest.approx((20, 0, 40.5))


def test_half_a_minute_past_the_last_reading_power_may_have_changed_by_a_fifth():
    assert band(RISE, 425) == pytest.approx((40, 39.5, 40.5))
    assert band(RISE, 435) == pytest.approx((40, 31.5, 48.5))


def test_a_step_has_its_mean_and_the_change_that_nobody_saw():
    knots = START_S + np.array([100, 200, 300, 400.0])
    found = power_steps(RISE, find_phases(RISE), knots, open_kw=0.0)
    assert found.mean_kw == pytest.approx([2, 21, 40])
    assert found.unseen_kw == pytest.approx([0, 38, 0])
    early = power_steps(FULL, find_phases(FULL), START_S + np.array([0, 100, 200.0]), open_kw=0.0)
    assert early.mean_kw == pytest.approx([20, 40])
    assert early.unseen_kw == pytest.approx([40, 0])


def test_past_the_last_reading_a_charge_that_never_settled_is_open():
    rising = power((100, 2.0), (200, 2.0), (300, 40.0))
    knots = START_S + np.array([200, 300, 400.0])
    found = power_steps(rising, find_phases(rising), knots, open_kw=25.0)
    assert found.unseen_kw[1] == pytest.approx(25 * math.sqrt(12))


def trickle(readings: Shown) -> Trickle:
    nothing = shown([], "charge_energy", START_S)
    curve = charge_curve(readings, nothing, START_S, START_S, START_S + 500)
    assert curve is not None
    return trickle_of(curve, at(0))


def test_the_trickle_ended_between_two_readings():
    """Each reading and the start are unsure by 0.4 s: 1.96 · 0.566 s at either end."""
    off_s = 1.959964 * math.hypot(0.4, 0.4)
    found = trickle(RISE)
    assert (found.end_s.low, found.end_s.high) == pytest.approx((200 - off_s, 300 + off_s))
    assert (found.lasted_s.low, found.lasted_s.high) == (found.end_s.low, found.end_s.high)
    assert found.strength_kw.value == pytest.approx(2, abs=0.05)


def test_its_energy_is_its_level_for_as_long_as_it_lasted():
    """2 kW for 200 to 300 s: 0.111 to 0.167 kWh, 0.139 in the middle."""
    amount = trickle(RISE).amount_kwh
    assert amount.value == pytest.approx(2 * 250 / 3600, rel=0.02)
    assert amount.low < 0.115
    assert amount.high > 0.163


def test_no_trickle_and_an_open_one():
    assert trickle(FULL) == Trickle()
    only = trickle(power((100, 2.0), (200, 2.0)))
    assert (only.lasted_s, only.amount_kwh, only.end_s.high) == (None, None, None)
    assert only.strength_kw.value == pytest.approx(2, abs=0.05)
