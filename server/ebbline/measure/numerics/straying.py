"""How far a process strays between intervals that it passes through, and what stands for them.

The process is normal: what its unknowns make of each reading, a walk of expected covariance, and
noise. How many times the walk's variance is what was expected is told by how likely that makes all
readings at once, which is what expectation propagation has for a by-product (Rasmussen and
Williams, Gaussian Processes for Machine Learning, 3.6.3, from memory). Normals in place of the
intervals would have tails, and take for straying what is rounding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.numerics.expectation_propagation import Sites, log_likelihood, propagate
from ebbline.records.arrays import FloatArray

_SCALES = np.linspace(2.5, -2.5, 11)  # of the walk's variance that are tried, in prior sigmas


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """What n readings were expected to count, before anything was read.

    ``mean`` (n,); ``walk`` (n, n): the walk's expected covariance; ``rest`` (n, n): that of noise
    and all else that is well known; ``vague`` (n, q): what one standard deviation of each unknown
    makes of each reading.
    """

    mean: FloatArray
    walk: FloatArray
    rest: FloatArray
    vague: FloatArray

    def covariance(self, scale: float) -> tuple[FloatArray, FloatArray]:
        """Of the readings (n, n), and its inverse, with so many times the walk's variance."""
        known = scale * self.walk + self.rest
        return known + self.vague @ self.vague.T, _information_of(known, self.vague)


@dataclass(frozen=True, slots=True, eq=False)
class Grip:
    """What the readings hold of the process.

    ``scale``: the walk's variance as fitted, per expected; ``pull`` (n,) and ``precision``
    (n, n): times the covariance of a reading with anything else they give its mean's shift and
    what its variance loses.
    """

    scale: float
    pull: FloatArray
    precision: FloatArray


def grip_of(prior: Prior, low: FloatArray, high: FloatArray, log_sd: float) -> Grip:
    """Condition on the intervals (n,); ``log_sd``: prior spread of the logarithm of the scale,
    around 0. With 0 the walk is taken as expected.
    """
    scale, near = _fitted(prior, low, high, log_sd) if log_sd else (1.0, None)
    covariance, information = prior.covariance(scale)
    sites = propagate(prior.mean, covariance, information, low, high, near)
    posterior = np.linalg.inv(information + np.diag(sites.precision))
    held = sites.precision[:, None] * posterior
    left = sites.pull - sites.precision * prior.mean
    return Grip(
        scale=scale,
        pull=left - held @ left,
        precision=np.diag(sites.precision) - held * sites.precision[None, :],
    )


def _fitted(
    prior: Prior, low: FloatArray, high: FloatArray, log_sd: float
) -> tuple[float, Sites | None]:
    """Posterior mean of the scale's logarithm, as a scale, and the sites of the likeliest one."""
    cost = np.empty(_SCALES.size)
    found: list[Sites] = []
    for k, tried in enumerate(np.exp(log_sd * _SCALES)):
        covariance, information = prior.covariance(float(tried))
        start = found[-1] if found else None
        found.append(propagate(prior.mean, covariance, information, low, high, start))
        likely = log_likelihood(prior.mean, information, found[-1], low, high)
        cost[k] = _SCALES[k] ** 2 - 2 * likely
    weight = np.exp(-(cost - cost.min()) / 2)
    scale = float(np.exp(weight @ (log_sd * _SCALES) / np.sum(weight)))
    return scale, found[int(np.argmin(cost))]


def _information_of(known: FloatArray, vague: FloatArray) -> FloatArray:
    """Inverse of ``known + vague vague'`` without losing digits to the vague part (Woodbury)."""
    inverse = np.linalg.inv(known)
    carried = inverse @ vague
    inner = np.eye(vague.shape[1]) + vague.T @ carried
    information = inverse - carried @ np.linalg.solve(inner, carried.T)
    return np.asarray((information + information.T) / 2)
