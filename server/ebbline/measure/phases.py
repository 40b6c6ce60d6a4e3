"""Trickle, ramp and full power, found as the change points that fit the shown power best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.charging import Shown
from ebbline.records import FloatArray


@dataclass(frozen=True, slots=True)
class Phases:
    """Index of the last reading of the trickle and of the first at full power."""

    last_trickle: int
    first_full: int
    trickle_kw: float
    full_kw: float


def find_phases(power: Shown) -> Phases | None:
    """The least-squares constant, straight rise, constant; None when one level fits as well.

    All pairs of change points are tried. Three levels' worth of parameters must earn their
    keep by the corrected Akaike criterion (Burnham and Anderson 2002, from memory).
    """
    level = power.middle
    n = level.size
    if n < 3:
        return None
    floor = float(np.mean(((power.high - power.low) ** 2) / 12))
    best: Phases | None = None
    least = np.inf
    for last in range(n - 1):
        low = float(np.mean(level[: last + 1]))
        for first in range(last + 1, n):
            high = float(np.mean(level[first:]))
            if high <= low:
                continue
            misfit = _misfit(power.t_s, level, last, first, low, high)
            if misfit < least:
                least, best = misfit, Phases(last, first, low, high)
    flat = float(np.sum((level - np.mean(level)) ** 2))
    if best is None or _aicc(least, floor, n, 5) >= _aicc(flat, floor, n, 2):
        return None
    return best


def _misfit(
    t_s: FloatArray, level: FloatArray, last: int, first: int, low: float, high: float
) -> float:
    model = np.interp(t_s, [t_s[last], t_s[first]], [low, high])
    return float(np.sum((level - model) ** 2))


def _aicc(misfit: float, floor: float, n: int, parameters: int) -> float:
    """Corrected Akaike criterion; the misfit can't be less than rounding makes it."""
    variance = max(misfit / n, floor)
    penalty = 2.0 * parameters
    if n > parameters + 1:
        penalty += 2 * parameters * (parameters + 1) / (n - parameters - 1)
    return float(n * np.log(variance) + penalty)
