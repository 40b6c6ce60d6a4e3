"""Tolerance bounds: at least so much with a share of all cars, said with a confidence.

By order statistics nothing is assumed of how cars differ: the k-th least of n bounds the share p
with the confidence that a binomial count of n cars, each below with 1 - p, is at least k; the least
alone takes n with 1 - pⁿ >= c (S. S. Wilks, Annals of Mathematical Statistics 12 (1941), 91-96).
The other way round the least of n cars bounds the share (1 - c)^(1/n), whatever n.

With fewer cars than that takes, but twenty at least, what was left is taken as normal or as
log-normal, whichever says less: the bound is m - k s, m and s mean and standard deviation of the
figures or of their logarithms, k the quantile c of Student's t with n - 1 degrees of freedom and
non-centrality z_p √n, over √n (NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3). Neither
alone holds for cars that follow the other: said with 90 %, a log-normal bound was true for 40 to 70
of 100 simulated samples of normal, Weibull or even distributions; the lower of both for 83 to 99 of
those that said anything (tests/compare/test_tolerance.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc, nctdtrit, ndtri

from ebbline.records.arrays import FloatArray

LEAST_CARS = 20  # for the bound by a distribution; fewer contradict none


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
    said = (
        f"with {n} {'car' if n == 1 else 'cars'} nothing can be said of {100 * share:.0f} % of "
        f"cars; {cars_needed(share, confidence)} would do"
    )
    if n < LEAST_CARS or np.min(left) <= 0:
        return Bound(None, None, said)
    bound = min(
        _normal(left, share, confidence), math.exp(_normal(np.log(left), share, confidence))
    )
    if bound <= 0:
        return Bound(None, None, f"{said}: they differ too much")
    return Bound(bound, "normal or log-normal, the lower", None)


def _normal(values: FloatArray, share: float, confidence: float) -> float:
    factor = normal_factor(values.size, share, confidence)
    return float(np.mean(values)) - factor * float(np.std(values, ddof=1))


def share_above_least(n: int, confidence: float) -> float:
    """What share of all cars the least of n bounds with the confidence."""
    return float((1 - confidence) ** (1 / n))


def median_ranks(n: int) -> tuple[int, int] | None:
    """Which of n values in rising order, from 1, bound the median of all with 95 %; None for fewer
    than six, where not even the least and the highest do (NIST/SEMATECH 7.2.6 has the same sums).
    """
    told = [k for k in range(1, n // 2 + 1) if bdtrc(k - 1, n, 0.5) >= 0.975]
    return (max(told), n + 1 - max(told)) if told else None
