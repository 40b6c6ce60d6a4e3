"""Standstill: found from speed and progress, then held still in the smoother.

Without this, noise around a parked car would read as distance.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.kalman_smoother import Observations, Smoothed
from ebbline.measure.track.rests import STOP_S, came_nowhere, first_spread_m, rest_spread_m
from ebbline.records.arrays import BoolArray, FloatArray

STILL_SD_MPS = 0.005
_SLOW_DOPPLER_MPS = 0.4
_SLOW_SMOOTHED_MPS = 0.8
_ROUNDS = 3


def find_stops(fixes: Fixes, smoothed: Smoothed, drift_m: float) -> tuple[BoolArray, float]:
    """Fixes (n,) at which the car stood, and the receiver's drift as long rests show it, metres.

    A receiver may claim to be better than it is: where a parked car's fixes spread wider than
    ``drift_m``, the search is made again with what they show.
    """
    known = np.isfinite(fixes.speed_mps)
    if np.all(known):
        return _stops(fixes, smoothed, drift_m), drift_m
    seen_m = smoothed.position_m + smoothed.drift_m
    if not np.any(known):
        drift_m = max(drift_m, first_spread_m(fixes.t_s, seen_m))
    for _ in range(_ROUNDS):
        stopped = _stops(fixes, smoothed, drift_m)
        spread_m = rest_spread_m(stopped & ~known, fixes.t_s, seen_m)
        if spread_m <= drift_m:
            break
        drift_m = spread_m
    return stopped, drift_m


def _stops(fixes: Fixes, smoothed: Smoothed, drift_m: float) -> BoolArray:
    """Fixes (n,) at which the car stood: slow for some seconds and not getting anywhere.

    Without a shown speed the smoothed one won't do: the receiver's drift alone makes it wander.
    There the car stood where it came no further in half a minute than drift explains.
    """
    speed_mps = np.hypot(*smoothed.velocity_mps.T)
    known = np.isfinite(fixes.speed_mps)
    slow = np.where(
        known, np.nan_to_num(fixes.speed_mps) < _SLOW_DOPPLER_MPS, speed_mps < _SLOW_SMOOTHED_MPS
    )
    stopped = np.zeros(slow.size, dtype=bool)
    for first, last in stretches(slow):
        duration_s = fixes.t_s[last] - fixes.t_s[first]
        progress_m = np.hypot(*(smoothed.position_m[last] - smoothed.position_m[first]))
        if duration_s >= STOP_S and progress_m < max(4.0, 0.2 * duration_s):
            stopped[first : last + 1] = True
    if not np.all(known):
        stopped |= ~known & came_nowhere(fixes.t_s, smoothed, drift_m)
    return stopped


def hold(observations: Observations, stopped: BoolArray) -> Observations:
    """The same observations with the car held still where it stood."""
    velocity_mps: FloatArray = observations.velocity_mps.copy()
    velocity_mps[stopped] = 0.0
    velocity_sd_mps: FloatArray = observations.velocity_sd_mps.copy()
    velocity_sd_mps[stopped] = STILL_SD_MPS
    return replace(observations, velocity_mps=velocity_mps, velocity_sd_mps=velocity_sd_mps)
