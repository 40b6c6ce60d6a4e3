"""Power between its readings: what it was, and how far that is open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.recharge.phases import Phases, jumps
from ebbline.measure.recharge.shown import Shown
from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.curves import Band

# After the last reading a charge is taken to go on for so long as it did, and full power to have
# changed by so much of itself later on (common practice, no source).
CARRIED_S = 30.0
_LATER_CHANGE = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class PowerSteps:
    """Power over the k steps between k+1 knots: its mean, and how much of a change came at a
    moment that nobody saw, kW.
    """

    mean_kw: FloatArray
    unseen_kw: FloatArray


def power_band(power: Shown, phases: Phases, t_s: FloatArray) -> Band:
    """Power at moments (k,), kW, with all that the readings around each allow."""
    value, low, high = (
        np.asarray(np.interp(t_s, power.t_s, part))
        for part in (power.middle, power.low, power.high)
    )
    at = _reading_before(power, t_s)
    here, there = _around(power, at)
    leap = _leaps(power, at)
    low = np.where(leap, np.minimum(power.low[here], power.low[there]), low)
    high = np.where(leap, np.maximum(power.high[here], power.high[there]), high)
    unseen = _before_any(phases, at)
    value, low = np.where(unseen, value / 2, value), np.where(unseen, 0.0, low)
    later_kw = _LATER_CHANGE * value * (t_s > power.t_s[-1] + CARRIED_S)
    return Band(value, low - later_kw, high + later_kw)


def power_steps(power: Shown, phases: Phases, knot_s: FloatArray, open_kw: float) -> PowerSteps:
    """The steps between knots (k+1,), at which every reading is one.

    A power seen at one level and then at another may have changed at any moment between; one that
    was never seen on its trickle may have begun at any moment before; and past the last reading it
    may have changed by ``open_kw`` if full power was not seen to settle.
    """
    level = np.interp(knot_s, power.t_s, power.middle)
    at = _reading_before(power, knot_s[:-1])
    here, there = _around(power, at)
    unseen = _before_any(phases, at)
    mean_kw = np.where(unseen, level[:-1] / 2, (level[:-1] + level[1:]) / 2)
    change_kw = np.where(
        _leaps(power, at), np.abs(power.middle[there] - power.middle[here]), np.abs(np.diff(level))
    )
    change_kw = np.where(unseen, level[:-1], change_kw)
    # a change that grows from the reading on leaves more than one at an unknown moment
    after = np.sqrt(12) * (
        _LATER_CHANGE * level[:-1] * (knot_s[:-1] >= power.t_s[-1] + CARRIED_S)
        if np.any(phases.full)
        else np.full(at.size, open_kw)
    )
    return PowerSteps(mean_kw, np.where(at == power.t_s.size - 1, after, change_kw))


def _reading_before(power: Shown, t_s: FloatArray) -> IntArray:
    """Index of the last reading at or before moments (k,); -1 before the first."""
    return np.asarray(np.searchsorted(power.t_s, t_s, side="right") - 1)


def _around(power: Shown, at: IntArray) -> tuple[IntArray, IntArray]:
    last = power.t_s.size - 1
    return np.clip(at, 0, last), np.clip(at + 1, 0, last)


def _leaps(power: Shown, at: IntArray) -> BoolArray:
    """Whether the power left a level after reading ``at`` (k,) and before the next."""
    return np.concatenate([jumps(power), [False]])[at] & (at >= 0)


def _before_any(phases: Phases, at: IntArray) -> BoolArray:
    """Before the first reading, where that wasn't made on the trickle."""
    return np.asarray((at < 0) & (not phases.trickle[0]))
