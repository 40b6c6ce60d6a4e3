"""Speed freed of two biases, and standstill: by hand, and by the mean of a Rice distribution."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import START_S
from scipy.stats import rice

from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.kalman_smoother import MotionModel, Observations, Smoothed, smooth
from ebbline.measure.track.speeds import speeds_mps, wander_velocity_var
from ebbline.measure.track.standstill import find_stops, hold


def unseen(velocity_mps: np.ndarray) -> tuple[Fixes, Smoothed]:
    """Fixes without shown speeds, a second apart, and velocities as smoothed."""
    n = velocity_mps.shape[0]
    nothing = np.full(n, np.nan)
    seen = Fixes("phone", START_S + np.arange(float(n)), *(nothing,) * 5)
    return seen, Smoothed(np.zeros((n, 2)), velocity_mps, np.zeros((n, 2)), *(nothing,) * 4, 0.0)


def test_drift_of_the_velocity_is_taken_off_the_speed():
    """(3, 4) is 5 m/s; a variance of 1 across makes it √(25 + 1) in the mean, about 0.1 more."""
    seen, smoothed = unseen(np.array([[3.0, 4.0], [3.0, 4.0], [0.6, 0.0]]))
    found = speeds_mps(seen, smoothed, np.array([False, True, False]), 1.0)
    assert found[0] == pytest.approx(5 - (np.sqrt(26) - 5), rel=1e-3)
    assert found[1] == 0.0
    assert found[2] == 0.6  # no faster than drift: there is nothing to take off


def test_what_drift_makes_is_read_off_a_minute_at_rest():
    velocity = 0.3 * np.array([[(-1.0) ** k, (-1.0) ** k] for k in range(100)])
    seen, smoothed = unseen(velocity)
    assert wander_velocity_var(seen, smoothed, np.arange(100) < 62) == pytest.approx(0.09)
    assert wander_velocity_var(seen, smoothed, np.arange(100) < 59) == 0.0
    shown = replace(seen, speed_mps=np.zeros(100))
    assert wander_velocity_var(shown, smoothed, np.arange(100) < 62) == 0.0


def test_where_speeds_are_missing_the_mean_of_an_unsure_velocity_is_lengthened():
    """The size of a velocity of 5 m/s, unsure by σ along both axes, has the mean of a Rice
    distribution (scipy.stats).
    """
    n = 60
    t_s = START_S + np.arange(float(n))
    shown = (np.arange(n) < 21) | (np.arange(n) >= 39)
    velocity = np.column_stack([np.zeros(n), np.full(n, 5.0)])
    observed = Observations(
        t_s,
        np.column_stack([np.zeros(n), 5.0 * np.arange(n)]),
        np.ones(n),
        np.where(shown[:, None], velocity, np.nan),
        np.full(n, 0.1),
    )
    smoothed = smooth(observed, MotionModel(0.5, 1.0, 3.0, 0.1))
    nothing = np.full(n, np.nan)
    seen = Fixes("phone", t_s, *(nothing,) * 3, np.where(shown, 5.0, np.nan), nothing)
    found = speeds_mps(seen, smoothed, np.zeros(n, dtype=bool), 0.0)
    sd = float(np.sqrt(smoothed.velocity_var(np.array([29]))[0][0]))
    assert found[29] - 5 == pytest.approx(rice.mean(5 / sd, scale=sd) - 5, rel=0.05)
    assert found[29] - 5 > 0.005
    assert found[5] == pytest.approx(5, abs=1e-6)


def test_a_shown_rest_of_four_seconds_is_a_stop_and_a_shorter_one_is_not():
    speed = np.full(30, 5.0)
    speed[5:9] = 0.0  # three seconds from first to last
    speed[15:20] = 0.0  # four
    velocity = np.column_stack([np.zeros(30), speed])
    seen, smoothed = unseen(velocity)
    stopped, drift_m = find_stops(replace(seen, speed_mps=speed), smoothed, 1.0)
    assert np.flatnonzero(stopped).tolist() == [15, 16, 17, 18, 19]
    assert drift_m == 1.0


def test_what_stood_is_held_still_and_what_was_observed_stays():
    velocity = np.full((4, 2), 0.2)
    observed = Observations(np.arange(4.0), np.zeros((4, 2)), np.ones(4), velocity, np.full(4, 0.3))
    held = hold(observed, np.array([False, True, True, False]))
    assert held.velocity_mps[:, 0].tolist() == [0.2, 0.0, 0.0, 0.2]
    assert held.velocity_sd_mps.tolist() == [0.3, 0.005, 0.005, 0.3]
    assert observed.velocity_mps.min() == 0.2
