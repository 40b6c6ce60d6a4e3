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
) -> Sites:
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
    return Sites(precision, pull)


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
