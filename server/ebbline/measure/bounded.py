"""A random curve that is only known to pass through intervals.

Prior: energy against expected work w is ``share * w`` plus a random walk whose variance grows
along a coordinate of its own; the share is normal around 1. A second expectation, such as energy
braked away, may come on top with a factor that is normal around 0. Evidence: differences of the
curve (from an origin that may carry an unknown constant) lie in given intervals, up to a normal
doubt.
Intervals are not normal, so they are put in by expectation propagation: each becomes the normal
that matches mean and variance of the truncated one given all others (Minka 2001; Rasmussen and
Williams, Gaussian Processes for Machine Learning, 3.6; from memory). Deterministic; dense in the
number of readings, which is small.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from ebbline.records import FloatArray, IntArray

UNKNOWN_ORIGIN_SD_KWH = 30.0
_SWEEPS = 120
_FINEST_KWH = 1e-3  # no interval counts for more than a normal of this width
_SETTLED_KWH = 1e-6
_DAMPING = 0.7
_BLOCK = 8192  # differences worked out at once
_NARROW = 0.05  # in sigmas: the truncated normal is flat there


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Points along the curve (m,): expected work, the random walk's variance so far, in kWh², and
    the second expectation (zero everywhere where there is none).
    """

    work_kwh: FloatArray
    walk_kwh2: FloatArray
    aside_kwh: FloatArray

    @classmethod
    def plain(cls, work_kwh: FloatArray, walk_kwh2: FloatArray) -> Places:
        """Points without a second expectation."""
        return cls(work_kwh, walk_kwh2, np.zeros(work_kwh.size))

    def part(self, chosen: slice | IntArray) -> Places:
        """Some of the points."""
        return Places(self.work_kwh[chosen], self.walk_kwh2[chosen], self.aside_kwh[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class Bounded:
    """The conditioned curve.

    ``places`` (p,): where readings and their origins lie, each once. ``observe`` (n, p): what each
    reading counts. ``pull`` (n,) and ``precision`` (n, n): the readings' grip on the curve.
    """

    places: Places
    observe: FloatArray
    share_sd: float
    aside_sd: float
    pull: FloatArray
    precision: FloatArray

    def difference(self, start: Places, end: Places) -> tuple[FloatArray, FloatArray]:
        """The curve at ``end`` less that at ``start``, (k,) pairs: means and standard deviations.

        Only differences of the curve are known. Work grows with k times the readings.
        """
        mean = np.empty(end.work_kwh.size)
        sd = np.empty(end.work_kwh.size)
        for first in range(0, mean.size, _BLOCK):
            block = slice(first, first + _BLOCK)
            mean[block], sd[block] = self._difference(start.part(block), end.part(block))
        return mean, sd

    def _difference(self, start: Places, end: Places) -> tuple[FloatArray, FloatArray]:
        expected = end.work_kwh - start.work_kwh
        walk = np.minimum(end.walk_kwh2[:, None], self.places.walk_kwh2)
        walk -= np.minimum(start.walk_kwh2[:, None], self.places.walk_kwh2)
        aside = end.aside_kwh - start.aside_kwh
        cross = walk @ self.observe.T
        cross += np.outer(expected, self.share_sd**2 * (self.observe @ self.places.work_kwh))
        cross += np.outer(aside, self.aside_sd**2 * (self.observe @ self.places.aside_kwh))
        own = (self.share_sd * expected) ** 2 + (self.aside_sd * aside) ** 2
        own += np.abs(end.walk_kwh2 - start.walk_kwh2)
        variance = own - np.sum((cross @ self.precision) * cross, axis=1)
        return expected + cross @ self.pull, np.sqrt(np.maximum(variance, 0.0))


def condition(
    *,
    places: Places,
    low_kwh: FloatArray,
    high_kwh: FloatArray,
    noise_kwh: FloatArray,
    origin: IntArray,
    share_sd: float,
    aside_sd: float = 0.0,
) -> Bounded:
    """Condition the curve on n intervals.

    Args:
        places: (2n,) the n readings, then the n origins they count from.
        low_kwh: (n,) least that each reading allows.
        high_kwh: (n,) most that each reading allows.
        noise_kwh: (n,) normal doubt of each reading, from its timing.
        origin: (n,) 0 where the reading counts from its origin exactly; j > 0 where an unknown
            constant number j comes on top.
        share_sd: prior relative doubt of energy per expected work.
        aside_sd: prior doubt of the second expectation's factor, around 0.
    """
    n = low_kwh.size
    places, observe = _each_once(places, n)
    mean = observe @ places.work_kwh
    walk = np.minimum(places.walk_kwh2[:, None], places.walk_kwh2[None, :])
    known = observe @ walk @ observe.T + np.diag(noise_kwh**2)
    origins = np.unique(origin[origin > 0])
    aside = observe @ places.aside_kwh
    unknown = UNKNOWN_ORIGIN_SD_KWH * (origin[:, None] == origins[None, :])
    vague = np.column_stack([share_sd * mean, aside_sd * aside, unknown])
    information = _information(known, vague)
    sites = _propagate(mean, known + vague @ vague.T, information, low_kwh, high_kwh)
    posterior = np.linalg.inv(information + np.diag(sites.precision))
    grip = sites.precision[:, None] * posterior
    left = sites.pull - sites.precision * mean
    return Bounded(
        places=places,
        observe=observe,
        share_sd=share_sd,
        aside_sd=aside_sd,
        pull=left - grip @ left,
        precision=np.diag(sites.precision) - grip * sites.precision[None, :],
    )


def _information(known: FloatArray, vague: FloatArray) -> FloatArray:
    """Inverse of ``known + vague vague'`` without losing digits to the vague part (Woodbury)."""
    inverse = np.linalg.inv(known)
    carried = inverse @ vague
    inner = np.eye(vague.shape[1]) + vague.T @ carried
    information = inverse - carried @ np.linalg.solve(inner, carried.T)
    return np.asarray((information + information.T) / 2)


def _each_once(places: Places, n: int) -> tuple[Places, FloatArray]:
    """The distinct points among n readings and n origins, and what each reading counts of them."""
    both = np.stack([places.walk_kwh2, places.work_kwh, places.aside_kwh])
    _, first, index = np.unique(both, axis=1, return_index=True, return_inverse=True)
    observe = np.zeros((n, first.size))
    np.add.at(observe, (np.arange(n), index[:n]), 1.0)
    np.add.at(observe, (np.arange(n), index[n:]), -1.0)
    return places.part(first), observe


@dataclass(frozen=True, slots=True, eq=False)
class _Sites:
    """The normals that stand for the intervals: precision and precision times mean, (n,)."""

    precision: FloatArray
    pull: FloatArray


def _propagate(
    mean: FloatArray,
    covariance: FloatArray,
    information: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> _Sites:
    """Expectation propagation, all sites at once with damping."""
    n = mean.size
    precision = np.zeros(n)
    pull = np.zeros(n)
    damping = _DAMPING
    most = 1 / _FINEST_KWH**2
    last_change = np.inf
    for sweep in range(_SWEEPS):
        posterior = np.linalg.inv(information + np.diag(precision)) if sweep else covariance
        here = mean + posterior @ (pull - precision * mean)
        variance = np.maximum(np.diag(posterior), 1e-14)
        left = 1 / variance - precision
        open_ = left > 1e-6 / variance  # else the site alone holds this reading: leave it
        left = np.where(open_, left, 1.0)
        left_mean = np.where(open_, (here / variance - pull) / left, here)
        cut_mean, cut_variance = truncated_moments(left_mean, 1 / left, low, high)
        new_precision = np.clip(1 / np.maximum(cut_variance, 1e-14) - left, 0.0, most)
        new_pull = cut_mean * (new_precision + left) - left * left_mean
        change = float(np.max(np.abs(cut_mean - here) * open_))
        if change > last_change:
            damping = max(damping / 2, 0.05)  # readings that pull apart make it swing
        last_change = change
        precision = precision + damping * open_ * (new_precision - precision)
        pull = pull + damping * open_ * (new_pull - pull)
        if change < _SETTLED_KWH:
            break
    return _Sites(precision, pull)


def truncated_moments(
    mean: FloatArray, variance: FloatArray, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance (n,) of normals cut to [low, high]; stable far out in the tails."""
    sd = np.sqrt(variance)
    flip = np.where((low + high) / 2 > mean, -1.0, 1.0)
    a = np.where(flip > 0, low - mean, mean - high) / sd
    b = np.where(flip > 0, high - mean, mean - low) / sd
    log_b = log_ndtr(b)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        log_mass = log_b + np.log1p(-np.exp(log_ndtr(a) - log_b))
        at_a = np.exp(-(a**2) / 2 - np.log(2 * np.pi) / 2 - log_mass)
        at_b = np.exp(-(b**2) / 2 - np.log(2 * np.pi) / 2 - log_mass)
        shift = at_a - at_b
        spread = 1 + a * at_a - b * at_b - shift**2
    middle, width = (a + b) / 2, b - a  # the middle lies below the mean, b nearest to it
    narrow = width < _NARROW
    shift = np.where(narrow, middle * (1 - width**2 / 12), np.where(np.isfinite(shift), shift, b))
    spread = np.where(np.isfinite(spread), spread, 0.0)
    spread = np.where(narrow, width**2 / 12, np.clip(spread, 1e-6 * width**2, width**2 / 4))
    shift = np.clip(shift, a, b)
    return mean + flip * sd * shift, variance * spread
