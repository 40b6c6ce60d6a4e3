"""Rests by positions alone: what drift does and driving doesn't."""

from __future__ import annotations

import numpy as np
import pytest
from measure.drive import START_S

from ebbline.measure.track.kalman_smoother import Smoothed
from ebbline.measure.track.rests import came_nowhere, first_spread_m, rest_spread_m


def seen(position_m: np.ndarray) -> tuple[np.ndarray, Smoothed]:
    """Positions a second apart as if smoothed."""
    n = position_m.shape[0]
    velocity = np.gradient(position_m, axis=0)
    nothing = np.empty(0)
    states = Smoothed(position_m, velocity, np.zeros((n, 2)), *(nothing,) * 4, 0.0)
    return START_S + np.arange(float(n)), states


def scattered(n: int, sigma_m: float, seed: int = 1) -> np.ndarray:
    return sigma_m * np.random.default_rng(seed).standard_normal((n, 2))


def test_a_way_out_and_back_to_the_same_place_is_drift_and_one_to_another_is_not():
    there = np.zeros((240, 2))
    out_m = 25.0 * np.sin(np.pi * np.arange(40) / 40)
    back = there.copy()
    back[100:140, 0] = out_m
    assert np.all(came_nowhere(*seen(back), 6.0))
    elsewhere = there.copy()
    elsewhere[100:140, 0] = np.linspace(0, 60, 40)
    elsewhere[140:, 0] = 60.0
    found = came_nowhere(*seen(elsewhere), 6.0)
    assert not np.any(found[110:130])
    assert found[50]
    assert found[200]


def test_walking_pace_is_no_rest_whatever_the_receiver():
    walk = np.column_stack([1.4 * np.arange(300.0), np.zeros(300)])
    assert not np.any(came_nowhere(*seen(walk), 30.0)[20:-20])


def test_the_spread_is_read_off_a_long_rest():
    """Of a circular normal; and none where the car goes on at walking pace."""
    t_s, states = seen(scattered(600, 8.0))
    assert first_spread_m(t_s, states.position_m) == pytest.approx(8.0, rel=0.1)
    assert rest_spread_m(np.ones(600, dtype=bool), t_s, states.position_m) == pytest.approx(
        8.0, rel=0.05
    )
    walk = np.column_stack([1.4 * np.arange(600.0), np.zeros(600)])
    assert first_spread_m(t_s, walk) == 0.0
    assert rest_spread_m(np.arange(600) < 80, t_s, states.position_m) == 0.0  # too short to tell
