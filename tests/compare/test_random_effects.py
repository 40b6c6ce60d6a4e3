"""Fits where a car is known by bounds, and where packs are unsure; published values are in
tests/published/test_campaign_statistics.py.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize, minimize_scalar
from scipy.special import psi
from scipy.stats import chi2, norm

from ebbline.compare.random_effects import Observed, fit, spread
from ebbline.errors import MeasureError


@pytest.fixture
def censored():
    """Eight cars: one with an upper bound alone, one between bounds, two measured and bounded."""
    rng = np.random.default_rng(1)
    pack = rng.uniform(40, 100, 8)
    value = 0.5 + 0.02 * pack + rng.normal(0, 0.5, 8)
    var, low, high = np.full(8, 0.01), np.full(8, -np.inf), np.full(8, np.inf)
    var[:2] = np.inf
    high[0], low[1], high[1], high[2], low[3] = 0.0, -1.0, -0.2, 1.0, 1.0
    return Observed(value, var, low, high, 0.04), np.column_stack([np.ones(8), pack])


def lack(parameters, observed, design) -> float:
    """The negative log likelihood, written out car by car."""
    *line, log_sd = parameters
    spread_var, total = np.exp(2 * log_sd), 0.0
    for k, mean in enumerate(design @ np.array(line)):
        about, left_var = mean, spread_var
        if np.isfinite(observed.var[k]):
            total += norm.logpdf(observed.value[k], mean, np.sqrt(observed.var[k] + spread_var))
            left_var = 1 / (1 / observed.var[k] + 1 / spread_var)
            about = left_var * (observed.value[k] / observed.var[k] + mean / spread_var)
        sd = np.sqrt(left_var + observed.bound_var)
        ends = norm.cdf([(observed.low[k] - about) / sd, (observed.high[k] - about) / sd])
        total += np.log(ends[1] - ends[0])
    return -total


def test_cars_known_by_bounds_enter_with_their_probability(censored) -> None:
    """Against a general optimiser on the likelihood written out."""
    observed, design = censored
    line = fit(observed, design, restricted=False)
    second = minimize(
        lack, [0, 0.02, np.log(0.5)], (observed, design), method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 5000},
    )  # fmt: skip
    assert line.log_likelihood == pytest.approx(-second.fun, abs=1e-7)
    assert line.coefficients == pytest.approx(second.x[:2], abs=2e-4)
    assert np.sqrt(line.spread_var) == pytest.approx(np.exp(second.x[2]), rel=1e-3)


def test_a_bound_far_off_is_worth_what_a_figure_there_would_be() -> None:
    """A car between two bounds close together is as good as measured there."""
    value, var = np.array([1.0, 1.4, 0.7, 1.1, -0.5]), np.full(5, 1e-6)
    unbound = np.full(5, np.inf)
    low, high = -unbound, unbound.copy()
    measured = fit(Observed(value, var, low, high), np.ones((5, 1)))
    var[4], low[4], high[4] = np.inf, -0.51, -0.49
    bounded = fit(Observed(value, var, low, high), np.ones((5, 1)))
    assert bounded.coefficients == pytest.approx(measured.coefficients, abs=2e-3)
    assert bounded.spread_var == pytest.approx(measured.spread_var, rel=0.05)
    assert bounded.covariance == pytest.approx(measured.covariance, rel=0.05)


def test_a_reserve_below_nothing_pulls_the_mean_down() -> None:
    value, var = np.array([1.0, 1.4, 0.7, 1.1, 0.0]), np.array([0.01] * 4 + [np.inf])
    high = np.array([np.inf] * 4 + [0.0])
    with_it = fit(Observed(value, var, np.full(5, -np.inf), high), np.ones((5, 1)))
    without = fit(Observed.measured(value[:4], var[:4]), np.ones((4, 1)))
    assert with_it.coefficients[0] < without.coefficients[0] - 0.1
    assert with_it.spread_var > without.spread_var


def test_unsure_packs_steepen_the_line_that_ignoring_them_flattens() -> None:
    """Attenuation: sizes off by 8 kWh (1 sd) on cars 20 kWh (1 sd) apart flatten it by about
    1/(1 + (8/20)²) = 0.86.
    """
    rng = np.random.default_rng(3)
    pack = rng.normal(70, 20, 4000)
    stated = pack + rng.normal(0, 8, 4000)
    observed = Observed.measured(0.02 * pack + rng.normal(0, 0.02, 4000), np.full(4000, 4e-4))
    design = np.column_stack([np.ones(4000), stated])
    var = np.column_stack([np.zeros(4000), np.full(4000, 64.0)])
    flat = fit(observed, design).coefficients[1]
    assert flat == pytest.approx(0.02 / (1 + 0.16), rel=0.02)
    assert fit(observed, design, var, spread_var=0.0).coefficients[1] == pytest.approx(
        0.02, rel=0.02
    )


def test_cars_alike_have_no_spread() -> None:
    observed = Observed.measured(np.array([1.0, 1.01, 0.99, 1.0]), np.full(4, 0.01))
    line = fit(observed, np.ones((4, 1)))
    assert line.spread_var == 0.0
    found = spread(observed, np.ones((4, 1)), None, 0.0)
    assert found.low == found.value == 0.0
    assert found.high < 0.2


def test_a_car_far_below_zero_counts_in_the_interval_of_the_spread_too() -> None:
    """Eleven cars within 0.1 kWh and one that shut down at 1 or 2 %: the likelihood as written out,
    less half the logarithm of its curvature by the mean, is as low at either end.
    """
    rng = np.random.default_rng(4)
    value, var = rng.normal(1.2, 0.06, 12), np.full(12, 0.02**2)
    low, high = np.full(12, -np.inf), np.full(12, np.inf)
    var[5], low[5], high[5] = np.inf, -1.2, -0.6
    observed, alone = Observed(value, var, low, high, 1e-9), np.ones((12, 1))
    sd = np.sqrt(fit(observed, alone).spread_var)
    found = spread(observed, alone, None, sd)
    assert found.value == sd
    assert found.low < 0.75 * sd
    assert found.high > 1.4 * sd

    def restricted(sd: float) -> float:
        def at(mean: float) -> float:
            return -lack((mean, np.log(sd)), observed, alone)

        best = minimize_scalar(lambda mean: -at(mean), bounds=(-1, 3), options={"xatol": 1e-9}).x
        curvature = (2 * at(best) - at(best + 1e-3) - at(best - 1e-3)) / 1e-6
        return at(best) - np.log(curvature) / 2

    falls = [restricted(sd) - restricted(end) for end in (found.low, found.high)]
    few = 11 * (np.log(5.5) - psi(5.5))
    assert falls == pytest.approx([chi2.ppf(0.95, 1) / 2 * few] * 2, rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("cars", "mean"), [(5, 0.84), (10, 1.28)])
def test_the_interval_of_the_spread_holds_it_as_often_as_it_says(cars: int, mean: float) -> None:
    """Cars that stray by 1 kWh, of which one on average is known only to have shut down at so many
    per cent of 65 kWh.
    """
    rng = np.random.default_rng(cars)
    held, campaigns = 0, 100
    for _ in range(campaigns):
        true, alone = mean + rng.normal(0, 1, cars), np.ones((cars, 1))
        early, soc = true < 0, np.ceil(-true / 0.65)
        observed = Observed(
            true + rng.normal(0, 0.05, cars),
            np.where(early, np.inf, 0.05**2),
            np.where(early, -0.65 * (soc + 1), -np.inf),
            np.where(early, -0.65 * np.maximum(soc - 1, 0), np.inf),
        )
        found = spread(observed, alone, None, np.sqrt(fit(observed, alone).spread_var))
        held += found.low <= 1 and (found.high is None or found.high >= 1)
    assert 0.90 * campaigns <= held <= 0.99 * campaigns


def test_no_more_cars_than_coefficients_are_refused() -> None:
    with pytest.raises(MeasureError, match="2 coefficients need 3 cars, have 2"):
        fit(Observed.measured(np.ones(2), np.ones(2)), np.array([[1.0, 1.0], [1.0, 2.0]]))


def test_packs_all_alike_are_refused() -> None:
    with pytest.raises(MeasureError, match="depend on each other"):
        fit(Observed.measured(np.ones(4), np.ones(4)), np.ones((4, 2)))
