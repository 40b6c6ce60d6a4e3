"""The fade of power over energy past zero."""

import numpy as np
import pytest

from ebbline.measure.full_throttle.fade import fade_of, falling
from ebbline.records.result import Limit, Quantity


def plateau(energy_kwh: float, power_kw: float | None, half_kw: float = 1.0) -> Limit:
    power = power_kw and Quantity(power_kw, power_kw - half_kw, power_kw + half_kw)
    energy = Quantity(energy_kwh, energy_kwh - 0.01, energy_kwh + 0.01)
    return Limit(0, 1, None, None, None, energy, None, None, power or None)


def test_the_fade_goes_through_plateaus_that_fall():
    energy_kwh, power = fade_of((plateau(0.1, 60.0), plateau(0.3, 40.0), plateau(0.6, 12.0)))
    assert energy_kwh[0] == 0.1
    assert energy_kwh[-1] == 0.6
    at_middle = int(np.flatnonzero(energy_kwh == 0.3)[0])
    assert power.value[at_middle] == 40.0
    assert np.all(np.diff(power.value) <= 0)
    assert power.low[at_middle] == 39.0


def test_a_plateau_above_an_earlier_one_is_averaged_into_the_fall_by_its_doubt():
    first, second, third = plateau(0.1, 60.0), plateau(0.3, 30.0, 2.0), plateau(0.5, 36.0, 1.0)
    _, power = fade_of((first, second, third))
    mean_kw = (30.0 / 4 + 36.0) / (1 / 4 + 1)  # weights are inverse variances
    assert power.value[-1] == pytest.approx(mean_kw)


def test_one_plateau_or_none_with_power_makes_no_curve():
    energy_kwh, power = fade_of((plateau(0.1, 60.0), plateau(0.3, None)))
    assert energy_kwh.size == power.value.size == 0


def test_the_order_of_the_plateaus_changes_nothing():
    limits = (plateau(0.1, 60.0), plateau(0.3, 40.0), plateau(0.6, 12.0))
    assert np.array_equal(fade_of(limits)[1].value, fade_of(limits[::-1])[1].value)


def test_more_points_than_the_curve_has_are_never_outside_its_ends():
    x = np.array([0.0, 1.0, 2.0])
    found = falling(x, np.array([5.0, 4.0, 0.0]), np.ones(3), np.linspace(0, 2, 101))
    assert found.max() == 5.0
    assert found.min() == 0.0
