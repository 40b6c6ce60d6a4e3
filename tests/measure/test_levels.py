"""A steady level through a rounding display."""

import numpy as np
import pytest

from ebbline.measure.recharge.levels import level_of
from ebbline.measure.recharge.shown import Shown


def shown(values: list[float], width: float = 0.1) -> Shown:
    at = np.array(values)
    return Shown(np.arange(at.size, dtype=float), at - width / 2, at + width / 2, np.zeros(at.size))


def everything(power: Shown) -> np.ndarray:
    return np.ones(power.t_s.size, dtype=bool)


def test_a_figure_that_never_changed_leaves_95_per_cent_of_its_rounding_open():
    power = shown([2.0] * 9)
    found = level_of(power, everything(power))
    assert found is not None
    assert np.allclose([found.value, found.low, found.high], [2.0, 1.9525, 2.0475])


def test_one_that_goes_to_and_fro_lies_near_the_edge_between():
    power = shown([10.8, 10.7, 10.8, 10.7, 10.8, 10.8, 10.7, 10.8])
    found = level_of(power, everything(power))
    assert found is not None
    assert 10.70 < found.low < 10.75 < found.high < 10.80  # a rounding would be 10.65 to 10.85


@pytest.mark.slow
def test_a_level_of_unrest_is_covered_as_often_as_it_says():
    rng = np.random.default_rng(31)
    inside = 0
    for _ in range(300):
        level, unrest = rng.uniform(5, 6), rng.uniform(0.01, 0.08)
        power = shown(np.round(level + unrest * rng.normal(size=12), 1).tolist())
        found = level_of(power, everything(power))
        inside += found.low <= level <= found.high
    assert 0.93 <= inside / 300 <= 0.99


def test_no_readings_say_nothing():
    power = shown([1.0, 1.0])
    assert level_of(power, np.zeros(2, dtype=bool)) is None
