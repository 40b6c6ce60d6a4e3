"""Standstill: found from speed and progress, then held still in the smoother.

Without this, noise around a parked car would read as distance.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ebbline.measure.fixes import Fixes
from ebbline.measure.smoother import Observations, Smoothed
from ebbline.records import BoolArray, FloatArray

STOP_S = 4.0  # a shorter rest isn't told from noise
STILL_SD_MPS = 0.005
_SLOW_DOPPLER_MPS = 0.4
_SLOW_SMOOTHED_MPS = 0.8


def find_stops(fixes: Fixes, smoothed: Smoothed) -> BoolArray:
    """Fixes (n,) at which the car stood: slow for some seconds and not getting anywhere."""
    speed_mps = np.hypot(*smoothed.velocity_mps.T)
    shown_mps = np.where(np.isfinite(fixes.speed_mps), fixes.speed_mps, np.inf)
    slow = (shown_mps < _SLOW_DOPPLER_MPS) | (
        ~np.isfinite(shown_mps) & (speed_mps < _SLOW_SMOOTHED_MPS)
    )
    stopped = np.zeros(slow.size, dtype=bool)
    for first, last in runs(slow):
        duration_s = fixes.t_s[last] - fixes.t_s[first]
        progress_m = np.hypot(*(smoothed.position_m[last] - smoothed.position_m[first]))
        if duration_s >= STOP_S and progress_m < max(4.0, 0.2 * duration_s):
            stopped[first : last + 1] = True
    return stopped


def hold(observations: Observations, stopped: BoolArray) -> Observations:
    """The same observations with the car held still where it stood."""
    velocity_mps: FloatArray = observations.velocity_mps.copy()
    velocity_mps[stopped] = 0.0
    velocity_sd_mps: FloatArray = observations.velocity_sd_mps.copy()
    velocity_sd_mps[stopped] = STILL_SD_MPS
    return replace(observations, velocity_mps=velocity_mps, velocity_sd_mps=velocity_sd_mps)


def runs(flags: BoolArray) -> list[tuple[int, int]]:
    """First and last index of every run of True in (n,) flags."""
    padded = np.concatenate([[0], flags.astype(np.int8), [0]])
    edges = np.flatnonzero(np.diff(padded)).reshape(-1, 2)
    return [(int(first), int(end) - 1) for first, end in edges]
