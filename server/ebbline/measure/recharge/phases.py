"""Trickle, ramp and full power, found as the change points that fit the shown power best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.measure.recharge.curve import Shown
from ebbline.records import FloatArray

_MOMENTS = 90  # change points tried: readings and quarters between, or so many of them
_SAME_LEVEL = 3.0  # standard deviations


@dataclass(frozen=True, slots=True)
class Phases:
    """Two levels and the rise between them.

    ``last_trickle`` is the index of the last reading of the trickle: it ended between that one
    and the next. Full power was shown from ``full_from_s`` on.
    """

    last_trickle: int
    full_from_s: float
    trickle_kw: float
    full_kw: float


def find_phases(power: Shown) -> Phases | None:
    """The least-squares constant, straight rise, constant; None when one level fits as well.

    All pairs of candidate moments are tried, the two levels being solved for each. The added
    parameters must earn their keep by the corrected Akaike criterion (Burnham and Anderson 2002,
    from memory). How straight the rise really was is not relied on: the trickle's end is only
    placed between two readings.
    """
    level = power.middle
    n = level.size
    if n < 4:
        return None
    moment_s = _candidates(power.t_s)
    begin, end = np.triu_indices(moment_s.size, k=1)
    misfit = _misfits(power.t_s, level, moment_s[begin], moment_s[end])
    best = int(np.argmin(misfit))
    rounding = float(np.mean(((power.high - power.low) ** 2) / 12))
    flat = float(np.sum((level - np.mean(level)) ** 2))
    if not np.isfinite(misfit[best]) or (
        _aicc(float(misfit[best]), rounding, n, 5) >= _aicc(flat, rounding, n, 2)
    ):
        return None
    begin_s, full_from_s = float(moment_s[begin[best]]), float(moment_s[end[best]])
    last = _last_of_level(power, int(np.searchsorted(power.t_s, begin_s, side="right")) - 1)
    full = power.t_s >= full_from_s
    if last is None or not np.any(full):
        return None
    return Phases(
        last_trickle=last,
        full_from_s=full_from_s,
        trickle_kw=float(np.mean(level[: last + 1])),
        full_kw=float(np.mean(level[full])),
    )


def _last_of_level(power: Shown, last: int) -> int | None:
    """The last reading of the first level, near ``last``; None when there is no first level."""
    level = power.middle
    if last < 0:
        return None
    usual = float(np.median(level[: last + 1]))
    deviation = MAD_TO_SIGMA * float(np.median(np.abs(level[: last + 1] - usual)))
    width = float(np.max((power.high - power.low)[: last + 1]))
    # A level at the edge of a step of the display shows on either side of it.
    reach = 1.001 * width + _SAME_LEVEL * deviation
    while last > 0 and abs(level[last] - usual) > reach:
        last -= 1
    while last + 1 < level.size - 1 and abs(level[last + 1] - usual) <= reach:
        last += 1
    return last


def _candidates(t_s: FloatArray) -> FloatArray:
    """Readings and the quarters between them, thinned evenly when there are many."""
    between = np.linspace(t_s[:-1], t_s[1:], 5)[:-1].T.ravel()
    moment_s = np.concatenate([between, t_s[-1:]])
    if moment_s.size <= _MOMENTS:
        return moment_s
    return np.asarray(moment_s[np.linspace(0, moment_s.size - 1, _MOMENTS).astype(int)])


def _misfits(
    t_s: FloatArray, level: FloatArray, from_s: FloatArray, to_s: FloatArray
) -> FloatArray:
    """Misfit of each of k rises: regression of level (n,) on the rise (k, n); falls don't count."""
    rise = np.clip((t_s - from_s[:, None]) / (to_s - from_s)[:, None], 0.0, 1.0)
    centred = rise - rise.mean(axis=1, keepdims=True)
    power = np.sum(centred**2, axis=1)
    slope = np.divide(
        centred @ (level - level.mean()), power, out=np.zeros(from_s.size), where=power > 1e-9
    )
    low = level.mean() - slope * rise.mean(axis=1)
    misfit = np.sum((level - low[:, None] - slope[:, None] * rise) ** 2, axis=1)
    return np.where(slope > 0, misfit, np.inf)


def _aicc(misfit: float, rounding: float, n: int, parameters: int) -> float:
    """Corrected Akaike criterion; the misfit can't be less than rounding makes it."""
    variance = max(misfit / n, rounding)
    penalty = 2.0 * parameters
    if n > parameters + 1:
        penalty += 2 * parameters * (parameters + 1) / (n - parameters - 1)
    return float(n * np.log(variance) + penalty)
