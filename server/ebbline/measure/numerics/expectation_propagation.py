"""Expectation propagation: normals that stand for intervals.

Each interval becomes the normal that matches mean and variance of the truncated one given all
others (Minka 2001; Rasmussen and Williams, Gaussian Processes for Machine Learning, 3.6; from
memory). Deterministic; dense in the number of readings, which is small.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from ebbline.records.arrays import FloatArray

_SWEEPS = 120
_FINEST_KWH = 1e-3  # no interval counts for more than a normal of this width
_SETTLED_KWH = 1e-6
_DAMPING = 0.7
_NARROW = 0.05  # in sigmas: the truncated normal is flat there


@dataclass(frozen=True, slots=True, eq=False)
class Sites:
    """The normals that stand for the intervals: precision and precision times mean, (n,)."""

    precision: FloatArray
    pull: FloatArray


def propagate(
    mean: FloatArray,
    covariance: FloatArray,
    information: FloatArray,
    low: FloatArray,
    high: FloatArray,
    start: Sites | None = None,
) -> Sites:
    """Expectation propagation, all sites at once with damping.

    ``start``: those of a process like this one, from which it settles sooner.
    """
    n = mean.size
    precision, pull = (start.precision, start.pull) if start else (np.zeros(n), np.zeros(n))
    damping = _DAMPING
    most = 1 / _FINEST_KWH**2
    last_change = np.inf
    for sweep in range(_SWEEPS):
        first = sweep == 0 and start is None
        posterior = covariance if first else np.linalg.inv(information + np.diag(precision))
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
    return Sites(precision, pull)


def log_likelihood(
    mean: FloatArray, information: FloatArray, sites: Sites, low: FloatArray, high: FloatArray
) -> float:
    """Logarithm of how likely the process makes all intervals, as the sites have it."""
    held = information + np.diag(sites.precision)
    posterior = np.linalg.inv(held)
    pull = sites.pull - sites.precision * mean  # from here on everything counts from the mean
    here, variance = posterior @ pull, np.maximum(np.diag(posterior), 1e-14)
    left = np.maximum(1 / variance - sites.precision, 1e-9 / variance)
    left_mean = (here / variance - pull) / left
    each = (
        log_mass(left_mean, 1 / left, low - mean, high - mean)
        + (left_mean**2 * left - here**2 / variance) / 2
        - np.log(left * variance) / 2
    )
    narrowed = np.linalg.slogdet(held)[1] - np.linalg.slogdet(information)[1]
    return float(np.sum(each) + pull @ here / 2 - narrowed / 2)


def log_mass(
    mean: FloatArray, variance: FloatArray, low: FloatArray, high: FloatArray
) -> FloatArray:
    """Logarithm (n,) of how much of normals lies in [low, high]; stable far out in the tails."""
    sd = np.sqrt(variance)
    flip = np.where((low + high) / 2 > mean, -1.0, 1.0)
    a = np.where(flip > 0, low - mean, mean - high) / sd
    b = np.where(flip > 0, high - mean, mean - low) / sd
    log_b = log_ndtr(b)
    with np.errstate(divide="ignore"):
        mass = log_b + np.log1p(-np.exp(np.minimum(log_ndtr(a) - log_b, 0.0)))
    # so narrow that the density falls by one factor over it: the middle's, times sinh(x) / x
    x = np.maximum(np.abs(a + b) * (b - a) / 4, 1e-6)
    tilt = x + np.log1p(-np.exp(-2 * x)) - np.log(2 * x)
    middle = -(((a + b) / 2) ** 2) / 2 - np.log(2 * np.pi) / 2
    flat = middle + tilt + np.log(np.maximum(b - a, 1e-12))
    return np.asarray(np.where(b - a < _NARROW, flat, mass))


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
