"""The curve through intervals against truncated normals, brute force and simulated truth."""

import numpy as np
import pytest
from scipy.stats import norm, truncnorm

from ebbline.measure.numerics.expectation_propagation import (
    log_likelihood,
    log_mass,
    propagate,
    truncated_moments,
)
from ebbline.measure.numerics.interval_process import Places, condition
from ebbline.measure.numerics.straying import Prior


@pytest.mark.parametrize(
    ("mean", "sd"),
    [
        (mean, sd)
        for mean in (-30.0, -6.0, -1.0, 0.0, 0.4, 3.0, 12.0, 30.0)
        for sd in (0.05, 0.3, 1.0, 20.0)
        if max(-mean, mean - 1) / sd < 35  # further out scipy's own variance isn't to be trusted
    ],
)
def test_a_cut_normal_has_the_moments_of_scipys(mean, sd):
    """scipy.stats.truncnorm; the mean to 1/400 of the interval, the variance to 1 %."""
    low, high = 0.0, 1.0
    theirs = truncnorm((low - mean) / sd, (high - mean) / sd, loc=mean, scale=sd)
    ours_mean, ours_variance = truncated_moments(
        np.array([mean]), np.array([sd**2]), np.array([low]), np.array([high])
    )
    assert ours_mean[0] == pytest.approx(theirs.mean(), abs=2.5e-3)
    assert ours_variance[0] == pytest.approx(theirs.var(), rel=0.01)


@pytest.mark.parametrize("mean", [-30.0, -6.0, -1.0, 0.0, 0.4, 3.0, 12.0])
@pytest.mark.parametrize("sd", [1.0, 5.0, 40.0])
def test_what_of_a_normal_lies_in_an_interval_is_as_scipy_s(mean, sd):
    """scipy.stats.norm, by the tail that loses no digits; an interval of one thirtieth, too."""
    for low, high in ((0.0, 1.0), (0.0, 1 / 30)):
        a, b = (low - mean) / sd, (high - mean) / sd
        theirs = norm.sf(a) - norm.sf(b) if a > 0 else norm.cdf(b) - norm.cdf(a)
        (ours,) = log_mass(np.array([mean]), np.array([sd**2]), np.array([low]), np.array([high]))
        assert ours == pytest.approx(np.log(theirs), abs=2e-3)


def prior(work_kwh, walk_var_kwh2, share_sd):
    """Covariance of the curve at places, from its definition: share times work plus a walk."""
    return share_sd**2 * np.outer(work_kwh, work_kwh) + np.minimum.outer(
        walk_var_kwh2, walk_var_kwh2
    )


CASES = {
    "readings of a tenth": dict(
        work_kwh=[1.0, 2.2, 3.1], low=[0.85, 1.95, 2.75], high=[0.95, 2.05, 2.85], noise=0.04
    ),
    "readings as wide as their distance": dict(
        work_kwh=[0.3, 0.5, 0.9], low=[0.0, 0.0, 0.5], high=[0.5, 0.5, 1.0], noise=0.01
    ),
    "two readings, one far from expected": dict(
        work_kwh=[1.0, 2.0], low=[1.3, 2.1], high=[1.5, 2.3], noise=0.05
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_the_curve_between_readings_is_that_of_brute_force(case):
    """A million curves of the prior, weighed by how likely each makes the readings.

    Means and standard deviations agree within 2 %.
    """
    work = np.array(case["work_kwh"])
    low, high = np.array(case["low"]), np.array(case["high"])
    share_sd, walk = 0.3, 0.02
    between = np.array([0.5 * work[0], (work[0] + work[-1]) / 2, 1.1 * work[-1]])
    every = np.concatenate([work, between])

    rng = np.random.default_rng(51)
    root = np.linalg.cholesky(prior(every, walk * every, share_sd) + 1e-12 * np.eye(every.size))
    curves = every + rng.normal(size=(1_000_000, every.size)) @ root.T
    seen = curves[:, : work.size]
    weight = np.prod(
        norm.cdf((high - seen) / case["noise"]) - norm.cdf((low - seen) / case["noise"]), axis=1
    )
    likely = np.mean(weight)
    weight /= np.sum(weight)
    assert 1 / np.sum(weight**2) > 5_000  # enough curves count
    at = curves[:, work.size :]
    mean = weight @ at
    sd = np.sqrt(weight @ (at - mean) ** 2)

    n = work.size
    origins = np.zeros(n)
    found = condition(
        places=Places.plain(np.append(work, origins), np.append(walk * work, origins)),
        low_kwh=low,
        high_kwh=high,
        noise_kwh=np.full(n, case["noise"]),
        origin=np.zeros(n, dtype=np.int64),
        share_sd=share_sd,
    )
    start = Places.plain(np.zeros(3), np.zeros(3))
    ours, ours_sd = found.difference(start, Places.plain(between, walk * between))
    np.testing.assert_allclose(ours, mean, rtol=0.02)
    np.testing.assert_allclose(ours_sd, sd, rtol=0.02)

    expected = Prior(
        work,
        prior(work, walk * work, 0.0),
        np.diag(np.full(n, case["noise"] ** 2)),
        share_sd * work[:, None],
    )
    covariance, information = expected.covariance(1.0)
    sites = propagate(work, covariance, information, low, high)
    told = log_likelihood(work, information, sites, low, high)
    assert told == pytest.approx(np.log(likely), abs=0.05)


def test_95_per_cent_of_simulated_curves_lie_in_the_95_per_cent_interval():
    """300 curves drawn from the prior, read off a display of tenths; eight places on each."""
    rng = np.random.default_rng(52)
    share_sd, walk = 0.2, 0.01
    inside = []
    for _ in range(300):
        n = int(rng.integers(4, 12))
        work = np.sort(rng.uniform(0.2, 6.0, n))
        between = np.sort(rng.uniform(0.0, 6.5, 8))
        every = np.concatenate([work, between])
        root = np.linalg.cholesky(prior(every, walk * every, share_sd) + 1e-12 * np.eye(every.size))
        curve = every + root @ rng.normal(size=every.size)
        shown = np.round((curve[:n] + 0.01 * rng.normal(size=n)) / 0.1) * 0.1
        found = condition(
            places=Places.plain(np.append(work, np.zeros(n)), np.append(walk * work, np.zeros(n))),
            low_kwh=shown - 0.05,
            high_kwh=shown + 0.05,
            noise_kwh=np.full(n, 0.01),
            origin=np.zeros(n, dtype=np.int64),
            share_sd=share_sd,
        )
        start = Places.plain(np.zeros(8), np.zeros(8))
        mean, sd = found.difference(start, Places.plain(between, walk * between))
        miss = np.abs(curve[n:] - mean) / sd
        inside.append(np.mean(miss <= 1.959964))
    assert 0.93 <= np.mean(inside) <= 0.98


def test_an_unknown_start_of_the_counter_leaves_differences_known():
    """Readings shifted by any constant give the same curve when their origin is unknown."""
    work = np.array([1.0, 2.0, 3.0, 4.0])
    places = Places.plain(np.append(work, np.zeros(4)), np.append(0.01 * work, np.zeros(4)))
    shown = np.array([1.1, 2.0, 3.2, 4.1])

    def between(shift_kwh):
        found = condition(
            places=places,
            low_kwh=shown + shift_kwh - 0.05,
            high_kwh=shown + shift_kwh + 0.05,
            noise_kwh=np.full(4, 0.01),
            origin=np.ones(4, dtype=np.int64),
            share_sd=0.2,
        )
        start, end = (Places.plain(work[[k]], 0.01 * work[[k]]) for k in (0, 3))
        mean, sd = found.difference(start, end)
        return mean[0], sd[0]

    assert between(0.0)[0] == pytest.approx(3.0, abs=0.06)
    assert between(12.0) == pytest.approx(between(0.0), abs=0.01)
