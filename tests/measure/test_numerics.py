"""Small mathematics of the core, worked by hand or against SciPy."""

import numpy as np
from scipy.integrate import cumulative_trapezoid

from ebbline.measure.numerics.running_mean import running_mean
from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.numerics.trapezoids import integral_so_far


def test_stretches_are_first_and_last_index_of_each_run_of_true():
    flags = np.array([True, False, True, True, False, False, True])
    assert stretches(flags) == [(0, 0), (2, 3), (6, 6)]
    assert stretches(np.zeros(4, dtype=bool)) == []
    assert stretches(np.ones(4, dtype=bool)) == [(0, 3)]
    assert stretches(np.zeros(0, dtype=bool)) == []


def test_stretches_give_back_the_flags_they_were_made_of():
    flags = np.random.default_rng(1).random(500) > 0.6
    again = np.zeros(flags.size, dtype=bool)
    for first, last in stretches(flags):
        again[first : last + 1] = True
    assert np.array_equal(again, flags)


def test_a_running_mean_over_three_seconds_is_that_of_three_fixes_at_one_hertz():
    speed_mps = np.array([0.0, 3.0, 6.0, 3.0, 0.0])
    found = running_mean(np.arange(5.0), speed_mps)
    assert np.allclose(found, [1.0, 3.0, 4.0, 3.0, 1.0])  # the ends repeat their own value


def test_a_running_mean_leaves_a_steady_speed_alone():
    steady = np.full(50, 17.0)
    assert np.allclose(running_mean(np.arange(50) / 10, steady), steady)


def test_the_integral_so_far_is_that_of_straight_lines():
    """2 kW for 10 s, then falling to nothing over 20 s: 20 and 20 more."""
    found = integral_so_far(np.array([0.0, 10.0, 30.0]), np.array([2.0, 2.0, 0.0]))
    assert found.tolist() == [0, 20, 40]
    rng = np.random.default_rng(3)
    t_s, values = np.cumsum(rng.uniform(0, 2, 200)), rng.normal(0, 30, 200)
    by_scipy = cumulative_trapezoid(values, t_s, initial=0)
    assert np.allclose(integral_so_far(t_s, values), by_scipy, rtol=1e-12)
