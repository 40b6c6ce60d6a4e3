"""The trickle: from the start of charging to the power's first rise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.recharge.curve import ChargeCurve
from ebbline.measure.recharge.levels import level_of
from ebbline.measure.recharge.shown import Shown
from ebbline.measure.time.moments import Moment
from ebbline.records.result import Bounds, Quantity


@dataclass(frozen=True, slots=True)
class Trickle:
    """How long, how strong and how much, and between which moments it ended."""

    lasted_s: Quantity | None = None
    strength_kw: Quantity | None = None
    amount_kwh: Quantity | None = None
    end_s: Bounds | None = None


def trickle_of(curve: ChargeCurve, start: Moment) -> Trickle:
    """All that the readings of power say of the trickle, counted from the start of charging.

    It ended somewhere between the last reading on it and the next: nobody knows where, so the
    interval keeps all of that, and at each end the uncertainty of that reading's moment and
    of the start's.
    """
    power, phases = curve.power, curve.phases
    if phases.first_after is None:
        return Trickle()
    strength = level_of(power, phases.trickle)
    last = phases.last_on
    last_s = None if last is None else max(float(power.t_s[last]) - start.t_s, 0.0)
    next_s = None
    if phases.first_after < power.t_s.size:
        next_s = float(power.t_s[phases.first_after]) - start.t_s
    if next_s is not None and next_s <= 0:
        return Trickle()
    last_off_s = _off_s(power, last, start)
    next_off_s = _off_s(power, phases.first_after, start)
    end = Bounds(
        value=None,
        low=None if last_s is None else max(last_s - last_off_s, 0.0),
        high=None if next_s is None else next_s + next_off_s,
    )
    if strength is None or last_s is None or next_s is None:
        return Trickle(strength_kw=strength, end_s=end)
    lasted = quantity.bounds(end.low or 0.0, next_s + next_off_s)
    # Straight lines between readings would count some of the rise: the last stretch is level.
    mean, sd = curve.energy(np.array([start.t_s]), np.array([start.t_s + last_s]))
    half_h = (next_s - last_s) / 2 / 3600
    # One rounding stands behind the level and the energy, so those add up; where it ended is
    # another matter.
    level_kwh = float(sd[0]) + quantity.sd_of(strength) * half_h
    timing_kwh = strength.value * max(last_off_s, next_off_s) / quantity.COVERAGE_FACTOR / 3600
    amount = quantity.rectangular(
        float(mean[0]) + strength.value * half_h,
        strength.value * half_h,
        math.hypot(level_kwh, timing_kwh),
        floor=0.0,
    )
    return Trickle(lasted, strength, amount, end)


def _off_s(power: Shown, index: int | None, start: Moment) -> float:
    """How far off the time from the start to a reading may be, 95 %, seconds."""
    if index is None or index >= power.t_s.size:
        return 0.0
    return quantity.COVERAGE_FACTOR * math.hypot(float(power.sd_s[index]), start.sd_s)
