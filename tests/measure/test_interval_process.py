"""The conditioned curve stays a curve whatever the readings say."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.measure.numerics.interval_process import Places, condition

amounts = st.floats(0, 200, allow_nan=False)
readings = st.lists(
    st.tuples(amounts, amounts, st.sampled_from([0.001, 0.1, 1.0]), st.integers(0, 2)),
    min_size=1,
    max_size=25,
)


@pytest.mark.slow
@settings(max_examples=150)
@given(readings, st.sampled_from([0.05, 0.15, 0.6]))
def test_any_readings_even_contradicting_ones_give_finite_figures(given, share_sd):
    given = sorted(given)
    work = np.array([entry[0] for entry in given])
    low = np.array([entry[1] for entry in given])
    found = condition(
        places=Places.plain(
            np.concatenate([work, np.zeros(work.size)]),
            0.02 * np.concatenate([work, np.zeros(work.size)]),
        ),
        low_kwh=low,
        high_kwh=low + np.array([entry[2] for entry in given]),
        noise_kwh=np.full(work.size, 1e-3),
        origin=np.array([entry[3] for entry in given]),
        share_sd=share_sd,
    )
    asked = np.linspace(0, 200, 17)
    mean, sd = found.difference(
        Places.plain(np.full(17, 3.0), np.full(17, 0.06)), Places.plain(asked, 0.02 * asked)
    )
    assert np.all(np.isfinite(mean))
    assert np.all(np.isfinite(sd))


def test_an_exact_reading_is_met_and_a_wide_one_changes_nothing():
    places = Places.plain(np.array([1.0, 0.0]), np.array([0.02, 0.0]))

    def at_one(low: float, high: float) -> tuple[float, float]:
        found = condition(
            places=places,
            low_kwh=np.array([low]),
            high_kwh=np.array([high]),
            noise_kwh=np.array([1e-3]),
            origin=np.zeros(1, dtype=np.int64),
            share_sd=0.3,
        )
        mean, sd = found.difference(places.part(slice(1, 2)), places.part(slice(0, 1)))
        return float(mean[0]), float(sd[0])

    mean, sd = at_one(1.19, 1.21)
    assert abs(mean - 1.2) < 0.001
    assert sd < 0.007
    free_mean, free_sd = at_one(-50.0, 50.0)
    assert abs(free_mean - 1.0) < 1e-6
    assert abs(free_sd - np.sqrt(0.3**2 + 0.02)) < 1e-6


@pytest.mark.parametrize("truly", [0.1, 8.0])
def test_how_far_the_curve_strays_is_learned_from_the_readings(truly):
    """A walk ten times quieter than expected narrows the curve, a wilder one widens it."""
    rng = np.random.default_rng(23)
    work = np.arange(0.5, 20.5, 0.5)
    walk_var_kwh2 = 0.01 * work
    steps = rng.normal(0, np.sqrt(truly * 0.01 * 0.5), work.size)
    low = np.floor((work + np.cumsum(steps)) / 0.05) * 0.05
    nothing = np.zeros(work.size)

    def sd_between(walk_log_sd: float) -> float:
        found = condition(
            places=Places.plain(np.append(work, nothing), np.append(walk_var_kwh2, nothing)),
            low_kwh=low,
            high_kwh=low + 0.05,
            noise_kwh=np.full(work.size, 2e-3),
            origin=np.zeros(work.size, dtype=np.int64),
            share_sd=0.2,
            walk_log_sd=walk_log_sd,
        )
        assert walk_log_sd == 0 or found.walk_scale == pytest.approx(truly, rel=0.6)
        _, sd = found.difference(
            Places.plain(np.zeros(1), np.zeros(1)),
            Places.plain(np.array([30.0]), np.array([0.30])),
        )
        return float(sd[0])

    expected, learned = sd_between(0.0), sd_between(1.4)
    assert learned < expected / 1.5 if truly < 1 else learned > expected * 1.5


def test_a_height_that_comes_back_strays_between_readings_and_adds_nothing_over_many():
    """Against the normal distribution's own rule of conditioning (Rasmussen and Williams, 2.2)."""
    way, sd = np.array([4.0, 8.0, 12.0]), 0.03
    at, noise = np.append(way, np.zeros(3)), 0.02
    flat = Places.plain(at, np.zeros(6))
    shown = way + np.array([0.02, -0.01, 0.0])
    found = condition(
        places=replace(flat, way=at),
        low_kwh=shown - 1e-4,
        high_kwh=shown + 1e-4,
        noise_kwh=np.full(3, noise),
        origin=np.zeros(3, dtype=int),
        share_sd=0.0,
        height_sd_kwh=sd,
    )

    def covariance(a, b):
        since_start = np.exp(-np.abs(a[:, None] - b)) + 1
        return sd**2 * (since_start - np.exp(-a)[:, None] - np.exp(-b))

    asked = np.array([1.0, 8.0, 8.5, 40.0])
    gain = covariance(asked, way) @ np.linalg.inv(covariance(way, way) + noise**2 * np.eye(3))
    mean = asked + gain @ (shown - way)
    left = np.diag(covariance(asked, asked) - gain @ covariance(way, asked))
    ends = replace(Places.plain(asked, np.zeros(4)), way=asked)
    ours, ours_sd = found.difference(Places.plain(np.zeros(4), np.zeros(4)), ends)
    assert ours == pytest.approx(mean, abs=2e-5)
    assert ours_sd == pytest.approx(np.sqrt(left), rel=2e-3)
    assert ours_sd[3] < np.sqrt(2) * sd
