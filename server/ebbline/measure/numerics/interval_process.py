"""A Gaussian process that is only known to pass through intervals.

Prior: energy against expected work w is ``share * w`` plus a random walk whose variance grows
along a coordinate of its own and a height, which comes back to where it was: a first-order
Gauss-Markov process along the way. The share is normal around 1. Further expectations, such as
energy braked away, may come on top, each with a factor that is normal around 0. Evidence:
differences of the curve (from an origin that may carry an unknown constant) lie in given intervals,
up to normal noise. Intervals are not normal, so they enter by expectation propagation
(``expectation_propagation``). How far walk and height stray is fitted to the readings
(``straying``), held loosely to what was expected of them: on a level course they are hardly there,
on a hilly one they are wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ebbline.measure.numerics.straying import Prior, grip_of
from ebbline.records.arrays import FloatArray, IntArray

UNKNOWN_ORIGIN_SD_KWH = 30.0
_BLOCK = 8192  # differences worked out at once


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Points along the curve (m,): expected work, the random walk's variance so far, in kWh², the
    way so far, in lengths over which a height forgets, the q further expectations (m, q), the
    variance so far of a walk that no reading rescales, in kWh², and by what the curve is off at
    this point alone, a variance in kWh² too (zero everywhere where there is none).
    """

    work_kwh: FloatArray
    walk_var_kwh2: FloatArray
    way: FloatArray
    aside_kwh: FloatArray
    fixed_var_kwh2: FloatArray
    own_var_kwh2: FloatArray

    @classmethod
    def plain(cls, work_kwh: FloatArray, walk_var_kwh2: FloatArray) -> Places:
        """Points without a further expectation or a second walk."""
        none = np.zeros(work_kwh.size)
        return cls(work_kwh, walk_var_kwh2, none, np.zeros((work_kwh.size, 0)), none, none)

    def part(self, chosen: slice | IntArray) -> Places:
        """Some of the points."""
        return Places(
            self.work_kwh[chosen],
            self.walk_var_kwh2[chosen],
            self.way[chosen],
            self.aside_kwh[chosen],
            self.fixed_var_kwh2[chosen],
            self.own_var_kwh2[chosen],
        )


@dataclass(frozen=True, slots=True, eq=False)
class IntervalProcess:
    """The conditioned curve.

    ``places`` (p,): where readings and their origins lie, each once. ``observe`` (n, p): what each
    reading counts. ``pull`` (n,) and ``precision`` (n, n): the readings' grip on the curve.
    ``aside_sd`` (q,): of the factors of the further expectations. ``height_sd_kwh``: of the height,
    as expected. ``walk_scale``: the variance of walk and height as fitted, per expected.
    """

    places: Places
    observe: FloatArray
    share_sd: float
    aside_sd: FloatArray
    height_sd_kwh: float
    pull: FloatArray
    precision: FloatArray
    walk_scale: float

    @property
    def share(self) -> float:
        """The share of the expected work, as the readings have it."""
        by_share = self.observe @ self.places.work_kwh
        return 1.0 + self.share_sd**2 * float(by_share @ self.pull)

    def difference(self, start: Places, end: Places) -> tuple[FloatArray, FloatArray]:
        """The curve at ``end`` less that at ``start``, (k,) pairs: means and standard deviations,
        without what it is off at these points alone.

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
        walk = np.minimum(end.walk_var_kwh2[:, None], self.places.walk_var_kwh2)
        walk -= np.minimum(start.walk_var_kwh2[:, None], self.places.walk_var_kwh2)
        heights = np.exp(-np.abs(end.way[:, None] - self.places.way))
        heights -= np.exp(-np.abs(start.way[:, None] - self.places.way))
        walk += self.height_sd_kwh**2 * heights
        fixed = np.minimum(end.fixed_var_kwh2[:, None], self.places.fixed_var_kwh2)
        fixed -= np.minimum(start.fixed_var_kwh2[:, None], self.places.fixed_var_kwh2)
        aside = end.aside_kwh - start.aside_kwh
        cross = (self.walk_scale * walk + fixed) @ self.observe.T
        cross += np.outer(expected, self.share_sd**2 * (self.observe @ self.places.work_kwh))
        cross += (aside * self.aside_sd**2) @ (self.observe @ self.places.aside_kwh).T
        own = (self.share_sd * expected) ** 2 + np.sum((aside * self.aside_sd) ** 2, axis=1)
        height = 2 * self.height_sd_kwh**2 * -np.expm1(-np.abs(end.way - start.way))
        own += self.walk_scale * (np.abs(end.walk_var_kwh2 - start.walk_var_kwh2) + height)
        own += np.abs(end.fixed_var_kwh2 - start.fixed_var_kwh2)
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
    aside_sd: Sequence[float] = (),
    height_sd_kwh: float = 0.0,
    walk_log_sd: float = 0.0,
) -> IntervalProcess:
    """Condition the curve on n intervals.

    Args:
        places: (2n,) the n readings, then the n origins they count from.
        low_kwh: (n,) least that each reading allows.
        high_kwh: (n,) most that each reading allows.
        noise_kwh: (n,) normal uncertainty of each reading, from its timing.
        origin: (n,) 0 where the reading counts from its origin exactly; j > 0 where an unknown
            constant number j comes on top.
        share_sd: prior relative uncertainty of energy per expected work.
        aside_sd: (q,) prior uncertainty of the further expectations' factors, around 0.
        height_sd_kwh: expected standard deviation of the height.
        walk_log_sd: prior sd of the logarithm of how many times the variance of walk and height is
            what was expected; 0 takes it as expected.
    """
    n = low_kwh.size
    places, observe = _each_once(places, n)
    mean = observe @ places.work_kwh
    walk, fixed = (
        observe @ np.minimum(var_kwh2[:, None], var_kwh2[None, :]) @ observe.T
        for var_kwh2 in (places.walk_var_kwh2, places.fixed_var_kwh2)
    )
    heights = np.exp(-np.abs(places.way[:, None] - places.way))
    walk += height_sd_kwh**2 * (observe @ heights @ observe.T)
    alone = (observe * places.own_var_kwh2) @ observe.T
    origins = np.unique(origin[origin > 0])
    aside = observe @ places.aside_kwh
    unknown = UNKNOWN_ORIGIN_SD_KWH * (origin[:, None] == origins[None, :])
    vague = np.column_stack([share_sd * mean, np.array(aside_sd) * aside, unknown])
    prior = Prior(mean, walk, fixed + alone + np.diag(noise_kwh**2), vague)
    grip = grip_of(prior, low_kwh, high_kwh, walk_log_sd)
    return IntervalProcess(
        places=places,
        observe=observe,
        share_sd=share_sd,
        aside_sd=np.array(aside_sd, dtype=float),
        height_sd_kwh=height_sd_kwh,
        pull=grip.pull,
        precision=grip.precision,
        walk_scale=grip.scale,
    )


def _each_once(places: Places, n: int) -> tuple[Places, FloatArray]:
    """The distinct points among n readings and n origins, and what each reading counts of them."""
    both = np.stack(
        [
            places.walk_var_kwh2,
            places.way,
            places.work_kwh,
            places.fixed_var_kwh2,
            places.own_var_kwh2,
            *places.aside_kwh.T,
        ]
    )
    _, first, index = np.unique(both, axis=1, return_index=True, return_inverse=True)
    observe = np.zeros((n, first.size))
    np.add.at(observe, (np.arange(n), index[:n]), 1.0)
    np.add.at(observe, (np.arange(n), index[n:]), -1.0)
    return places.part(first), observe
