"""A distance that is only known to pass through intervals.

Prior: the speed is a pace times 1 + f + u(x), where f is a constant, normal around 0, and u a sum
of first-order Gauss-Markov processes along x, the time driven: over seconds the distance follows
the speed, over minutes it strays like a random walk. Its covariance is the double integral of
exp(-|x - y| / m) for each (a particle's way by Uhlenbeck and Ornstein 1930, from memory). Evidence:
differences of the distance lie in given intervals, which enter by expectation propagation; how far
the speed strays is fitted to them, held loosely to what was expected (``straying``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.numerics.straying import Prior, grip_of
from ebbline.records.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class SpeedPrior:
    """``pace`` in km/s; ``share_sd`` of f; ``strays`` the standard deviation and the memory in
    seconds of each part of u; ``stray_log_sd`` of the logarithm of u's variance.
    """

    pace: float
    share_sd: float
    strays: tuple[tuple[float, float], ...]
    stray_log_sd: float


@dataclass(frozen=True, slots=True, eq=False)
class DistanceProcess:
    """The conditioned distance in km along ``x`` in seconds.

    ``x`` (p,): where readings and origins lie; ``observe`` (n, p): what each reading counts;
    ``pull`` (n,) and ``precision`` (n, n): the readings' grip.
    """

    prior: SpeedPrior
    x: FloatArray
    observe: FloatArray
    pull: FloatArray
    precision: FloatArray
    scale: float

    def since(self, start: float, ends: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The distance from one place to others (k,): means, and covariance (k, k)."""
        points = np.concatenate([[start], ends])
        away = np.hstack([-np.ones((ends.size, 1)), np.eye(ends.size)])
        cross = away @ _covariance(self.prior, self.scale, points, self.x) @ self.observe.T
        own = away @ _covariance(self.prior, self.scale, points, points) @ away.T
        mean = self.prior.pace * (ends - start) + cross @ self.pull
        return mean, own - cross @ self.precision @ cross.T


def condition_distance(
    *,
    x: FloatArray,
    origin_x: FloatArray,
    low: FloatArray,
    high: FloatArray,
    noise: FloatArray,
    shared: FloatArray,
    prior: SpeedPrior,
) -> DistanceProcess:
    """Condition the distance on n readings of it, all arrays (n,) but the last.

    Args:
        x: where each was read.
        origin_x: where it counts from.
        low: the least it allows, km.
        high: the most it allows, km.
        noise: normal uncertainty of each by itself, km.
        shared: (n, q) what one standard deviation of each of q further unknowns makes in each
            reading, km: a scale, the moment of a reset, an unknown start.
        prior: see ``SpeedPrior``.
    """
    n = x.size
    points, index = np.unique(np.concatenate([x, origin_x]), return_inverse=True)
    observe = np.zeros((n, points.size))
    np.add.at(observe, (np.arange(n), index[:n]), 1.0)
    np.add.at(observe, (np.arange(n), index[n:]), -1.0)
    mean = prior.pace * (x - origin_x)
    stray = observe @ _stray(prior, points, points) @ observe.T
    vague = np.column_stack([prior.share_sd * mean, shared])
    floor = noise**2 + 1e-8  # a tenth of a metre: readings of one place stay apart
    expected = Prior(mean, stray, np.diag(floor), vague)
    grip = grip_of(expected, low, high, prior.stray_log_sd)
    return DistanceProcess(
        prior=prior,
        x=points,
        observe=observe,
        pull=grip.pull,
        precision=grip.precision,
        scale=grip.scale,
    )


def _covariance(prior: SpeedPrior, scale: float, a: FloatArray, b: FloatArray) -> FloatArray:
    by_share = (prior.share_sd * prior.pace) ** 2 * np.outer(a, b)
    return np.asarray(by_share + scale * _stray(prior, a, b))


def _stray(prior: SpeedPrior, a: FloatArray, b: FloatArray) -> FloatArray:
    """Covariance (k, l) of what u adds up to from 0 to places, all at or after 0."""
    one, other = a[:, None], b[None, :]
    covariance = np.zeros((a.size, b.size))
    for sd, m in prior.strays:
        doubled = 2 * m * np.minimum(one, other) + m**2 * (
            np.exp(-one / m) + np.exp(-other / m) - 1 - np.exp(-np.abs(one - other) / m)
        )
        covariance += (sd * prior.pace) ** 2 * doubled
    return covariance
