"""Standstill: found from speed and progress, then held still in the smoother.

Without this, noise around a parked car would read as distance.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.kalman_smoother import Observations, Smoothed
from ebbline.records.arrays import BoolArray, FloatArray

STOP_S = 4.0  # a shorter rest isn't told from noise
STILL_SD_MPS = 0.005
_SLOW_DOPPLER_MPS = 0.4
_SLOW_SMOOTHED_MPS = 0.8
_AROUND_S = 15.0  # before and after, in which a car without shown speed came nowhere
_LEAST_REACH_M = 8.0
_MOST_REACH_M = 25.0  # else a receiver that claims tens of metres would swallow slow driving
_MOST_WANDER_MPS = 2.5
_STEADY_STEP_S = 5.0
_LONG_REST_S = 90.0  # long enough to show how far the receiver drifts
_ROUNDS = 3


def find_stops(fixes: Fixes, smoothed: Smoothed, drift_m: float) -> tuple[BoolArray, float]:
    """Fixes (n,) at which the car stood, and the receiver's drift as long rests show it, metres.

    A receiver may claim to be better than it is: where a parked car's fixes spread wider than
    ``drift_m``, the search is made again with what they show.
    """
    if np.all(np.isfinite(fixes.speed_mps)):
        return _stops(fixes, smoothed, drift_m), drift_m
    for _ in range(_ROUNDS):
        stopped = _stops(fixes, smoothed, drift_m)
        spread_m = _rest_spread_m(fixes, smoothed, stopped)
        if spread_m <= drift_m:
            break
        drift_m = spread_m
    return stopped, drift_m


def _rest_spread_m(fixes: Fixes, smoothed: Smoothed, stopped: BoolArray) -> float:
    """Standard deviation along one axis of the fixes of long rests without a shown speed.

    Of the greatest such spread; 0 where the car never stood long. A rest that drift has cut in
    pieces is taken as one where all of it lies at one place.
    """
    seen_m = smoothed.position_m + smoothed.drift_m
    spreads_m = [0.0]
    for first, last in _rests(stopped & ~np.isfinite(fixes.speed_mps), fixes.t_s, seen_m):
        if fixes.t_s[last] - fixes.t_s[first] >= _LONG_REST_S:
            spreads_m.append(float(np.sqrt(np.mean(np.var(seen_m[first : last + 1], axis=0)))))
    return min(max(spreads_m), _MOST_REACH_M / 3)


def _rests(resting: BoolArray, t_s: FloatArray, seen_m: FloatArray) -> list[tuple[int, int]]:
    """First and last fix of each rest, its pieces joined."""
    rests: list[tuple[int, int]] = []
    for first, last in stretches(resting):
        if rests:
            begin, end = rests[-1]
            near = t_s[first] - t_s[end] <= _LONG_REST_S
            if near and _extent_m(seen_m[begin : last + 1]) <= _MOST_REACH_M:
                rests[-1] = (begin, last)
                continue
        rests.append((first, last))
    return rests


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
        stopped |= ~known & _came_nowhere(fixes.t_s, smoothed, drift_m)
    return stopped


def _came_nowhere(t_s: FloatArray, smoothed: Smoothed, drift_m: float) -> BoolArray:
    """Fixes (n,) around which the car came no further than the receiver's drift explains."""
    reach_m = float(np.clip(3 * np.sqrt(2) * drift_m, _LEAST_REACH_M, _MOST_REACH_M))

    def at(moment_s: FloatArray) -> FloatArray:
        return np.column_stack([np.interp(moment_s, t_s, axis) for axis in smoothed.position_m.T])

    before, here, after = at(t_s - _AROUND_S), at(t_s), at(t_s + _AROUND_S)
    across_m = np.hypot(*(after - before).T)
    aside_m = np.hypot(*(2 * here - after - before).T) / 2  # half-way out and back again
    speed_mps = np.hypot(*smoothed.velocity_mps.T)
    found = np.zeros(t_s.size, dtype=bool)
    for first, last in stretches(np.maximum(across_m, aside_m) < reach_m):
        if t_s[last] - t_s[first] < STOP_S:
            continue
        for begin, end in (_extended(first, last, t_s, speed_mps), (first, last)):
            if _extent_m(smoothed.position_m[begin : end + 1]) <= reach_m:
                found[begin : end + 1] = True
                break
    for first, last in stretches(
        ~found
    ):  # a short way out and back between two rests is drift, too
        if first == 0 or last == t_s.size - 1 or t_s[last + 1] - t_s[first - 1] > 2 * _AROUND_S:
            continue
        way_m = smoothed.position_m[first - 1 : last + 2] - smoothed.position_m[first - 1]
        if np.max(np.hypot(*way_m.T)) < reach_m:
            found[first : last + 1] = True
    return found


def _extent_m(position_m: FloatArray) -> float:
    """How far fixes (k, 2) spread from their middle: slow progress adds up, drift comes back."""
    return float(np.max(np.hypot(*(position_m - np.median(position_m, axis=0)).T)))


def _extended(first: int, last: int, t_s: FloatArray, speed_mps: FloatArray) -> tuple[int, int]:
    """A rest's ends moved out to where the speed rises above what drift made it at rest."""
    rest_mps = float(np.sqrt(np.mean(speed_mps[first : last + 1] ** 2)))
    noise_mps = min(2.5 * rest_mps, _MOST_WANDER_MPS)
    quiet = (speed_mps < noise_mps) & (np.diff(t_s, append=t_s[-1]) < _STEADY_STEP_S)
    while first > 0 and quiet[first - 1]:
        first -= 1
    while last < t_s.size - 1 and quiet[last + 1]:
        last += 1
    return first, last


def hold(observations: Observations, stopped: BoolArray) -> Observations:
    """The same observations with the car held still where it stood."""
    velocity_mps: FloatArray = observations.velocity_mps.copy()
    velocity_mps[stopped] = 0.0
    velocity_sd_mps: FloatArray = observations.velocity_sd_mps.copy()
    velocity_sd_mps[stopped] = STILL_SD_MPS
    return replace(observations, velocity_mps=velocity_mps, velocity_sd_mps=velocity_sd_mps)
