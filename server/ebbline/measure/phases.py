"""Trickle, ramp and full power, found as the change points that fit the shown power best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.charging import Shown
from ebbline.records import FloatArray

_COARSE = 90  # moments tried over the whole charge: readings and quarters between
_FINE = 60  # moments tried around each change point found so
_CHI_SQUARED_95 = 3.841  # one parameter


@dataclass(frozen=True, slots=True)
class Phases:
    """Two levels and the rise between them.

    The trickle ended between ``trickle_end_low_s`` and ``trickle_end_high_s`` (95 %); full power
    was reached at ``full_from_s``.
    """

    trickle_end_low_s: float
    trickle_end_high_s: float
    full_from_s: float
    trickle_kw: float
    full_kw: float


def find_phases(power: Shown) -> Phases | None:
    """The least-squares constant, straight rise, constant; None when one level fits as well.

    All pairs of candidate moments are tried, the two levels being solved for each. The added
    parameters must earn their keep by the corrected Akaike criterion (Burnham and Anderson 2002,
    from memory). The interval of the trickle's end is that of its profile likelihood.
    """
    level = power.middle
    n = level.size
    if n < 4:
        return None
    rounding = float(np.mean(((power.high - power.low) ** 2) / 12))
    moment_s = _candidates(power.t_s)
    coarse = _search(power.t_s, level, moment_s, moment_s)
    if not np.isfinite(coarse.least):
        return None
    variance = max(coarse.least / max(n - 4, 1), rounding)
    around_from_s, around_to_s = coarse.possible(variance)
    step_s = float(np.max(np.diff(moment_s)))
    fine = _search(
        power.t_s,
        level,
        np.linspace(around_from_s[0] - step_s, around_from_s[1] + step_s, _FINE),
        np.linspace(around_to_s[0] - step_s, around_to_s[1] + step_s, _FINE),
    )
    flat = float(np.sum((level - np.mean(level)) ** 2))
    if _aicc(fine.least, rounding, n, 5) >= _aicc(flat, rounding, n, 2):
        return None
    possible_s, _ = fine.possible(max(fine.least / max(n - 4, 1), rounding))
    best = int(np.argmin(fine.misfit))
    return Phases(
        trickle_end_low_s=possible_s[0],
        trickle_end_high_s=possible_s[1],
        full_from_s=float(fine.to_s[best]),
        trickle_kw=float(fine.low_kw[best]),
        full_kw=float(fine.high_kw[best]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    """Every rise tried, (k,): when it began and ended, its levels and its misfit."""

    from_s: FloatArray
    to_s: FloatArray
    low_kw: FloatArray
    high_kw: FloatArray
    misfit: FloatArray

    @property
    def least(self) -> float:
        return float(np.min(self.misfit)) if self.misfit.size else np.inf

    def possible(self, variance: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """95 % intervals of the rise's begin and end by profile likelihood."""
        good = self.misfit <= self.least + _CHI_SQUARED_95 * variance
        begin_s, end_s = self.from_s[good], self.to_s[good]
        return (
            (float(np.min(begin_s)), float(np.max(begin_s))),
            (float(np.min(end_s)), float(np.max(end_s))),
        )


def _search(t_s: FloatArray, level: FloatArray, begin_s: FloatArray, end_s: FloatArray) -> _Search:
    """Try every pair of a begin and a later end; falls are no rises."""
    from_s, to_s = (grid.ravel() for grid in np.meshgrid(begin_s, end_s, indexing="ij"))
    rising = to_s > from_s
    from_s, to_s = from_s[rising], to_s[rising]
    misfit, low_kw, high_kw = _fit_all(t_s, level, from_s, to_s)
    return _Search(from_s, to_s, low_kw, high_kw, np.where(high_kw > low_kw, misfit, np.inf))


def _candidates(t_s: FloatArray) -> FloatArray:
    """Readings and the quarters between them, thinned evenly when there are many."""
    between = np.linspace(t_s[:-1], t_s[1:], 5)[:-1].T.ravel()
    moment_s = np.concatenate([between, t_s[-1:]])
    if moment_s.size <= _COARSE:
        return moment_s
    return np.asarray(moment_s[np.linspace(0, moment_s.size - 1, _COARSE).astype(int)])


def _fit_all(
    t_s: FloatArray, level: FloatArray, from_s: FloatArray, to_s: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Misfit and both levels for each of k rises: regression of level (n,) on the rise (k, n)."""
    rise = np.clip((t_s - from_s[:, None]) / (to_s - from_s)[:, None], 0.0, 1.0)
    centred = rise - rise.mean(axis=1, keepdims=True)
    power = np.sum(centred**2, axis=1)
    slope = np.divide(
        centred @ (level - level.mean()), power, out=np.zeros(from_s.size), where=power > 1e-9
    )
    low = level.mean() - slope * rise.mean(axis=1)
    misfit = np.sum((level - low[:, None] - slope[:, None] * rise) ** 2, axis=1)
    return misfit, low, low + slope


def _aicc(misfit: float, rounding: float, n: int, parameters: int) -> float:
    """Corrected Akaike criterion; the misfit can't be less than rounding makes it."""
    variance = max(misfit / n, rounding)
    penalty = 2.0 * parameters
    if n > parameters + 1:
        penalty += 2 * parameters * (parameters + 1) / (n - parameters - 1)
    return float(n * np.log(variance) + penalty)
