"""A line through cars that differ among themselves: random-effects meta-regression.

A car's true reserve is x'θ + b, with b ~ N(0, τ²) its own difference from what the line expects.
Its sessions show that with known errors, or only bounds of it. Written for any columns x:

- Given τ², θ solves Z'W(y - Xθ) = 0. Where a column is itself unsure by u, the car's variance is
  V = v + τ² + θ²u² and Z has the adjusted x + θu²r/V in its place, which makes the solution York's
  (York et al., American Journal of Physics 72 (2004), 367-375), and (Z'WZ)⁻¹ its covariance.
- A car known only by bounds adds the probability that its reserve lies between them; its score and
  curvature stand for r/V and 1/V (Newton's method; the normal distribution is log-concave).
- τ² makes the restricted likelihood largest, ln L - ½ ln|Z'WZ| (REML; Viechtbauer, Journal of
  Educational and Behavioral Statistics 30 (2005), 261-293); for information criteria it is the
  plain likelihood, since restricted ones compare nothing across different columns.
- Intervals of θ are Knapp and Hartung's (Statistics in Medicine 22 (2003), 2693-2710): the
  covariance times Q/(n - p), Student's t with n - p degrees of freedom, Q = Σ r²/V. A car known by
  bounds counts in Q with what its square is expected to be between them, as τ² sees it: an odd one
  that widens τ² would else make the interval narrower than τ² alone allows.
- The interval of τ is of the same likelihood as its value: all τ for which the restricted one,
  made largest over θ, is at most so much smaller that twice the fall is the 95 % point of
  chi-squared with one degree of freedom (profile likelihood: Hardy and Thompson, Statistics in
  Medicine 15 (1996), 619-629; Viechtbauer, Statistics in Medicine 26 (2007), 37-52). For few cars
  that point is multiplied by what twice the fall is expected to be, f (ln(f/2) - ψ(f/2)) with
  f = n - p where all v are alike (Bartlett, Proceedings of the Royal Society A 160 (1937),
  268-282). The Q profile, exact for measured cars, won't do: Q knows nothing of how far below
  nothing a car known by bounds must lie, so that its upper end can fall short of τ itself.

Held against a reference program and York's line in tests/published.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri, log_ndtr, psi, stdtrit

from ebbline.errors import MeasureError
from ebbline.records.arrays import BoolArray, FloatArray
from ebbline.records.comparison import Figure
from ebbline.records.result import Bounds, Quantity

_CHI2_95 = float(chdtri(1, 0.05))
_STEPS = 40
_CLOSE = 1e-9
_LEAST_VAR = 1e-6  # of how far figures lie apart, squared: a bound needs some spread to be likely
_GRID = 9


@dataclass(frozen=True, slots=True, eq=False)
class Observed:
    """What is known of n cars, (n,) each: measured mean and its variance, infinite where nothing
    was measured; bounds, infinite where there are none, which hold up to an error of ``bound_var``.
    """

    value: FloatArray
    var: FloatArray
    low: FloatArray
    high: FloatArray
    bound_var: float = 0.0

    @classmethod
    def measured(cls, value: FloatArray, var: FloatArray) -> Observed:
        """Cars of which none is known by bounds."""
        unbound = np.full(value.size, np.inf)
        return cls(value, var, -unbound, unbound)

    def only(self, chosen: BoolArray) -> Observed:
        """The cars chosen, (n,)."""
        value, var, low, high = (
            column[chosen] for column in (self.value, self.var, self.low, self.high)
        )
        return Observed(value, var, low, high, self.bound_var)

    @property
    def is_measured(self) -> BoolArray:
        """Where a figure and not only bounds are known, (n,)."""
        return np.isfinite(self.var)

    @property
    def reach(self) -> float:
        """How far apart all finite figures and bounds lie."""
        told = np.concatenate(
            [self.value[np.isfinite(self.var)], *(end[np.isfinite(end)] for end in self.ends)]
        )
        return float(np.ptp(told)) or max(float(np.max(np.abs(told), initial=0.0)), 1.0)

    @property
    def ends(self) -> tuple[FloatArray, FloatArray]:
        """Low and high bounds."""
        return self.low, self.high


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A fitted line: coefficients (p,), their covariance (p, p) as Knapp and Hartung have it, τ².

    ``log_likelihood`` is the plain one at this solution. ``freedom``: cars less coefficients.
    """

    coefficients: FloatArray
    covariance: FloatArray
    spread_var: float
    log_likelihood: float
    freedom: int

    def coefficient(self, k: int) -> Quantity:
        """One of them with its 95 % interval."""
        one = np.zeros(self.coefficients.size)
        one[k] = 1.0
        return self.at(one)

    def at(self, row: FloatArray, share: float = 0.95) -> Quantity:
        """What the line expects at columns (p,), with the interval of that expectation."""
        return self._within(row, 0.0, share)

    def next_at(self, row: FloatArray) -> Quantity:
        """Between what the reserve of a further car with these columns would lie, 95 %."""
        return self._within(row, self.spread_var, 0.95)

    def _within(self, row: FloatArray, more_var: float, share: float) -> Quantity:
        value = float(row @ self.coefficients)
        sd = math.sqrt(max(float(row @ self.covariance @ row), 0.0) + more_var)
        half = float(stdtrit(self.freedom, (1 + share) / 2)) * sd
        return Quantity(value, value - half, value + half)


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """θ given τ², with what the likelihoods need."""

    coefficients: FloatArray
    log_likelihood: float
    precision: FloatArray  # Z'WZ, of orthonormal columns
    misfit: float  # Q


def fit(
    observed: Observed,
    design: FloatArray,
    design_var: FloatArray | None = None,
    *,
    restricted: bool = True,
    spread_var: float | None = None,
) -> Line:
    """The line that cars (n,) with columns ``design`` (n, p) follow.

    Args:
        observed: of n cars.
        design: one row for each car.
        design_var: variances (n, p) of the columns, independent of each other; None: known.
        restricted: whether τ² is the restricted likelihood's or the plain one's.
        spread_var: τ² where it is known.

    Raises:
        MeasureError: not more cars than columns, or columns that depend on each other.
    """
    problem = _Problem(observed, design, design_var)
    if spread_var is None:
        spread_var = problem.best_sd(restricted=restricted) ** 2
    solved = problem.solve(spread_var)
    freedom = design.shape[0] - design.shape[1]
    return Line(
        solved.coefficients,
        solved.misfit / freedom * problem.covariance(solved),
        spread_var,
        solved.log_likelihood,
        freedom,
    )


def spread(
    observed: Observed, design: FloatArray, design_var: FloatArray | None, sd: float
) -> Figure:
    """τ as the restricted likelihood has it, ``sd``, with its interval by the profile of it; an end
    that so few cars don't bound is None.
    """
    half = (design.shape[0] - design.shape[1]) / 2
    few = 2 * half * (math.log(half) - float(psi(half)))
    low, high = _Problem(observed, design, design_var).sds_within(sd, few * _CHI2_95 / 2)
    return Bounds(sd, low, None) if high is None else Quantity(sd, low, high)


class _Problem:
    """Cars and columns, for any τ²; starts each solution from the last one.

    Works on orthonormal columns, design = columns @ triangle, so that nothing is lost where those
    given are nearly alike or of very unlike size.
    """

    def __init__(
        self, observed: Observed, design: FloatArray, design_var: FloatArray | None
    ) -> None:
        n, p = design.shape
        if n <= p:
            raise MeasureError(f"{p} coefficients need {p + 1} cars, have {n}")
        self.columns, triangle = np.linalg.qr(design)
        diagonal = np.abs(np.diag(triangle)) / np.linalg.norm(design, axis=0)
        if not np.min(diagonal) > 1e-10:
            raise MeasureError("the columns of the fit depend on each other")
        self.back = np.linalg.solve(triangle, np.eye(p))
        self.design_var = np.zeros_like(design) if design_var is None else design_var
        self.observed, self.measured = observed, observed.is_measured
        self.bound = np.isfinite(observed.low) | np.isfinite(observed.high)
        self.any_bound = bool(np.any(self.bound))
        self.log_circles = float(np.count_nonzero(self.measured)) * math.log(2 * math.pi)
        self.reach = observed.reach
        middle = np.clip(observed.value, observed.low, observed.high)
        self.weights = self.columns.T @ np.where(np.isfinite(middle), middle, 0.0)

    def best_sd(self, *, restricted: bool) -> float:
        """τ at which the likelihood is largest."""

        def lack(sd: float) -> float:
            return self.lack(sd, restricted=restricted)

        most = 2 * self.reach
        tried = most * np.linspace(0, 1, _GRID) ** 2
        lacking = [lack(float(sd)) for sd in tried]
        k = int(np.argmin(lacking))
        within = (float(tried[max(k - 1, 0)]), float(tried[min(k + 1, _GRID - 1)]))
        found = minimize_scalar(
            lack, bounds=within, method="bounded", options={"xatol": 1e-6 * self.reach}
        )
        return float(found.x) if found.fun < lacking[0] else 0.0

    def lack(self, sd: float, *, restricted: bool) -> float:
        """The negative logarithm of a likelihood at τ, but for a constant."""
        solved = self.solve(sd**2)
        if not restricted:
            return -solved.log_likelihood
        return float(np.linalg.slogdet(solved.precision)[1]) / 2 - solved.log_likelihood

    def sds_within(self, best_sd: float, fall: float) -> tuple[float, float | None]:
        """Between what τ the logarithm of the restricted likelihood is no further below its largest
        than this; None where it never falls so far.
        """
        most_lack = self.lack(best_sd, restricted=True) + fall

        def excess(sd: float) -> float:
            return self.lack(sd, restricted=True) - most_lack

        close = 1e-9 * self.reach
        low = brentq(excess, 0.0, best_sd, xtol=close) if excess(0.0) > 0 else 0.0
        most = 2 * self.reach
        while excess(most) < 0:
            most *= 2
            if most > 1e4 * self.reach:
                return float(low), None
        return float(low), float(brentq(excess, best_sd, most, xtol=close))

    def solve(self, spread_var: float) -> _Solved:
        """θ given τ²."""
        spread_var = max(spread_var, _LEAST_VAR * self.reach**2 if self.any_bound else 0.0)
        for _ in range(_STEPS):
            theta = self.back @ self.weights
            total = spread_var + self.design_var @ theta**2
            score, weight, log_likelihood, misfit = self._cars(self.columns @ self.weights, total)
            adjusted = self.columns + (self.design_var * theta * score[:, None]) @ self.back
            step = np.linalg.solve((adjusted.T * weight) @ self.columns, adjusted.T @ score)
            self.weights = self.weights + step
            if np.max(np.abs(self.columns @ step)) < _CLOSE * self.reach:
                break
        precision = (adjusted.T * weight) @ adjusted
        return _Solved(self.back @ self.weights, log_likelihood, precision, misfit)

    def covariance(self, solved: _Solved) -> FloatArray:
        """(Z'WZ)⁻¹ of the columns given."""
        return np.asarray(self.back @ np.linalg.inv(solved.precision) @ self.back.T)

    def _cars(
        self, expected: FloatArray, total: FloatArray
    ) -> tuple[FloatArray, FloatArray, float, float]:
        """Score and weight (n,) of what is known of each car, whose reserve lies about ``expected``
        with variance ``total``; the log likelihood of all, and Q.
        """
        observed, measured = self.observed, self.measured
        off = (observed.value - expected) * measured
        weight = 1 / (total + observed.var)  # nothing where the variance is infinite
        score = off * weight
        squares = float(np.sum(off * score))
        logs = float(np.sum(np.log(weight[measured]))) - squares - self.log_circles
        squares_of_bounds = 0.0
        if self.any_bound:
            bound = self.bound
            # what a measured session leaves unsure of the car's reserve, and where it puts it
            kept = 1 - total * weight
            about = expected + (1 - kept) * off
            sd = np.sqrt(kept * total + observed.bound_var)[bound]
            held, first, second = _between(
                (observed.low - about)[bound] / sd, (observed.high - about)[bound] / sd
            )
            logs += 2 * float(np.sum(held))
            squares_of_bounds = float(np.sum((1 + first**2 - second)[~measured[bound]]))
            score[bound] += kept[bound] * first / sd
            weight[bound] += (kept[bound] / sd) ** 2 * second
        return score, weight, logs / 2, squares + squares_of_bounds


def _between(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Of a standard normal's probability between two ends (n,): its logarithm, and the first and
    the negative second derivative of that by the distribution's mean.
    """
    # both ends on the side where the tail is small, so that nothing cancels
    turned = low + high > 0
    near = np.where(turned, -low, high)
    far = np.where(turned, -high, low)
    log_near, log_far = log_ndtr(near), log_ndtr(far)
    log_share = log_near + np.log1p(-np.exp(log_far - log_near))
    at_near, at_far = (_density(end) for end in (near, far))
    slope_near = np.exp(at_near - log_share)
    slope_far = np.exp(at_far - log_share)
    first = slope_far - slope_near  # by the mean, which moves both ends the other way
    bent = _times(near, slope_near) - _times(far, slope_far)
    second = bent + first**2
    return log_share, np.where(turned, -first, first), np.maximum(second, 1e-12)


def _density(end: FloatArray) -> FloatArray:
    return np.asarray(-(end**2) / 2 - math.log(2 * math.pi) / 2)


def _times(end: FloatArray, slope: FloatArray) -> FloatArray:
    """An end times the density there, nothing at infinity."""
    return np.where(np.isfinite(end), np.where(np.isfinite(end), end, 0.0) * slope, 0.0)
