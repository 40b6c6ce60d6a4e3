"""The distance whose speed strays, against integration by scipy and against simulated drives."""

import numpy as np
import pytest
from scipy.integrate import dblquad

from ebbline.measure.numerics.distance_process import SpeedPrior, _stray, condition_distance

PRIOR = SpeedPrior(pace=0.018, share_sd=0.3, strays=((0.3, 90.0),), stray_log_sd=1e-6)


@pytest.mark.parametrize(("a", "b"), [(10.0, 10.0), (30.0, 200.0), (400.0, 90.0)])
def test_the_covariance_is_the_double_integral_of_the_speeds(a, b):
    """scipy.integrate.dblquad of exp(-|x - y| / 90 s), the kink of its diagonal told apart."""
    low, high = min(a, b), max(a, b)

    def by_scipy(from_y, to_y):
        return dblquad(lambda y, x: np.exp(-abs(x - y) / 90.0), 0, low, from_y, to_y)[0]

    integral = by_scipy(0, lambda x: x) + by_scipy(lambda x: x, high)
    ours = _stray(PRIOR, np.array([a]), np.array([b]))[0, 0]
    assert ours == pytest.approx((0.3 * 0.018) ** 2 * integral, rel=1e-6)


@pytest.mark.slow
def test_95_per_cent_of_simulated_drives_lie_in_the_interval():
    """300 drives with such speeds, shown to 0.1 km four times in twenty minutes."""
    rng = np.random.default_rng(41)
    step_s, n = 2.0, 600
    kept = np.exp(-step_s / 90.0)
    inside = []
    for _ in range(300):
        stray = np.empty(n)
        stray[0] = rng.normal()
        for k in range(1, n):
            stray[k] = kept * stray[k - 1] + np.sqrt(1 - kept**2) * rng.normal()
        speed = PRIOR.pace * (1 + 0.3 * rng.normal() + 0.3 * stray)
        way = np.concatenate([[0.0], np.cumsum(speed * step_s)])
        at = np.array([150, 300, 450, 600])
        low = np.floor(way[at] * 10) / 10
        found = condition_distance(
            x=at * step_s,
            origin_x=np.zeros(4),
            low=low,
            high=low + 0.1,
            noise=np.full(4, 1e-3),
            shared=np.zeros((4, 1)),
            prior=PRIOR,
        )
        asked = np.array([60, 220, 375, 520])
        mean, covariance = found.since(0.0, asked * step_s)
        miss = np.abs(way[asked] - mean) / np.sqrt(np.diag(covariance))
        inside.append(np.mean(miss <= 1.96))
    assert 0.93 <= np.mean(inside) <= 0.98


def test_a_scale_shared_by_all_readings_stays_in_what_they_tell():
    """1.5 % of 20 km is 300 m, however many readings agree."""
    x = np.arange(100.0, 1200.0, 100.0)
    shown = 20 * x / 1100
    found = condition_distance(
        x=x,
        origin_x=np.zeros(x.size),
        low=shown - 0.05,
        high=shown + 0.05,
        noise=np.full(x.size, 0.005),
        shared=(0.015 * shown)[:, None],
        prior=PRIOR,
    )
    _, covariance = found.since(0.0, np.array([1100.0]))
    assert np.sqrt(covariance[0, 0]) == pytest.approx(0.3, rel=0.05)
