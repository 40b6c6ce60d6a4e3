"""Bounds on what cars have left; published values are in tests/published."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ebbline.compare.tolerance import LEAST_CARS, lower_bound, share_above_least

SHARE, CONFIDENCE = 0.95, 0.90


def test_few_cars_give_no_bound_and_say_so() -> None:
    found = lower_bound(np.linspace(2.0, 3.0, 7), SHARE, CONFIDENCE)
    assert found.value is None
    assert found.reason == "with 7 cars nothing can be said of 95 % of cars; 45 would do"


def test_the_least_of_seven_bounds_the_share_that_order_statistics_give_it() -> None:
    """1 - p⁷ = 0.9 at p = 0.7197."""
    assert 1 - share_above_least(7, CONFIDENCE) ** 7 == pytest.approx(CONFIDENCE)
    assert share_above_least(45, CONFIDENCE) >= SHARE > share_above_least(44, CONFIDENCE)


def test_many_cars_are_bounded_by_one_of_them() -> None:
    left = np.arange(45.0, 0.0, -1.0)
    assert lower_bound(left, SHARE, CONFIDENCE).value == 1.0
    assert lower_bound(np.arange(1.0, 101.0), SHARE, CONFIDENCE).value == 2.0
    assert lower_bound(left, SHARE, CONFIDENCE).method == "order statistics"


def test_a_car_with_nothing_left_leaves_no_bound_above_nothing() -> None:
    assert lower_bound(np.arange(0.0, 30.0), SHARE, CONFIDENCE).value is None


@pytest.mark.parametrize(
    ("name", "cars"),
    [
        (stats.lognorm(0.3), LEAST_CARS),
        (stats.lognorm(0.3), 44),
        (stats.truncnorm(-3.3, 9, 1, 0.3), LEAST_CARS),
        (stats.gamma(9), LEAST_CARS),
        (stats.weibull_min(4), 30),
        (stats.weibull_min(2), 30),
        (stats.uniform(0.1, 1.9), LEAST_CARS),
        (stats.uniform(0.1, 1.9), 60),
    ],
)
def test_bounds_are_about_as_true_as_they_say(name, cars: int) -> None:
    """Of those told: 83 to 99 of 100, said with 90 %."""
    rng, true_bound = np.random.default_rng(2), name.ppf(1 - SHARE)
    told = [
        bound.value <= true_bound
        for _ in range(400)
        if (bound := lower_bound(name.rvs(cars, random_state=rng), SHARE, CONFIDENCE)).value
    ]
    assert len(told) > 40
    assert np.mean(told) > 0.78
