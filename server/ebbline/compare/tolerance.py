"""Tolerance bounds: at least so much with a share of all cars, said with a confidence.

By order statistics nothing is assumed of how cars differ: the k-th least of n bounds the share p
with the confidence that a binomial count of n cars, each below with 1 - p, is at least k; the least
alone takes n with 1 - pⁿ >= c (S. S. Wilks, Annals of Mathematical Statistics 12 (1941), 91-96).
With fewer cars what was left is taken as log-normal: the bound is exp(m - k s), m and s mean and
standard deviation of the logarithms, k the quantile c of Student's t with n - 1 degrees of freedom
and non-centrality z_p √n, over √n (NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc, nctdtrit, ndtri

from ebbline.records.arrays import FloatArray

LEAST_CARS = 10  # for the log-normal bound, which fewer could neither bear nor contradict
_STRAIGHT = 0.90  # below this correlation with normal scores logarithms are no normal sample


@dataclass(frozen=True, slots=True)
class Bound:
    """A bound and how it was found, or why there is none."""

    value: float | None
    method: str | None
    reason: str | None


def cars_needed(share: float, confidence: float) -> int:
    """Fewest cars of which the least bounds the share with the confidence."""
    return math.ceil(math.log1p(-confidence) / math.log(share) - 1e-9)


def rank(n: int, share: float, confidence: float) -> int:
    """Which of n values in rising order, counted from 1, is the highest that bounds the share with
    the confidence; 0 where none does.
    """
    told = [k for k in range(1, n + 1) if bdtrc(k - 1, n, 1 - share) >= confidence]
    return max(told, default=0)


def normal_factor(n: int, share: float, confidence: float) -> float:
    """How many standard deviations below the mean of n values a normal's one-sided bound lies."""
    root = math.sqrt(n)
    return float(nctdtrit(n - 1, float(ndtri(share)) * root, confidence)) / root


def lower_bound(left: FloatArray, share: float, confidence: float) -> Bound:
    """What at least a share of all cars had left, from that of n cars (n,), not negative."""
    n = left.size
    if n == 0:
        return Bound(None, None, "it is not known for any car")
    if k := rank(n, share, confidence):
        return Bound(float(np.sort(left)[k - 1]), "order statistics", None)
    said = f"with {n} {'car' if n == 1 else 'cars'} no such statement can be made"
    if n < LEAST_CARS:
        return Bound(None, None, said)
    if np.min(left) <= 0:
        return Bound(None, None, f"{said}: one of them had nothing left")
    logs = np.log(left)
    sd = float(np.std(logs, ddof=1))
    if not sd > 0 or straightness(logs) < _STRAIGHT:
        return Bound(None, None, f"{said}: they don't follow a log-normal distribution")
    bound = math.exp(float(np.mean(logs)) - normal_factor(n, share, confidence) * sd)
    return Bound(bound, "log-normal", None)


def straightness(values: FloatArray) -> float:
    """Correlation of sorted values (n,) with what a normal sample of as many is expected to be:
    the normal probability plot's (NIST/SEMATECH e-Handbook, 1.3.3.21), by Filliben's medians.
    """
    n = values.size
    medians = (np.arange(1, n + 1) - 0.3175) / (n + 0.365)
    medians[-1] = 0.5 ** (1 / n)
    medians[0] = 1 - medians[-1]
    return float(np.corrcoef(np.sort(values), ndtri(medians))[0, 1])


def median_ranks(n: int) -> tuple[int, int] | None:
    """Which of n values in rising order, from 1, bound the median of all with 95 %; None for fewer
    than six, where not even the least and the highest do (NIST/SEMATECH 7.2.6 has the same sums).
    """
    told = [k for k in range(1, n // 2 + 1) if bdtrc(k - 1, n, 0.5) >= 0.975]
    return (max(told), n + 1 - max(told)) if told else None
