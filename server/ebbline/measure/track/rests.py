"""Rests where no speed is shown: the car came nowhere, but its positions drift.

Drift comes back to where the car stands, driving doesn't. Where drift reaches now and then is no
proof of driving: what counts is that most of a rest lies at one place.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.numerics.ticks import ticks
from ebbline.measure.track.fixes import RADIUS_95_TO_SIGMA
from ebbline.measure.track.kalman_smoother import Smoothed
from ebbline.records.arrays import BoolArray, FloatArray

STOP_S = 4.0  # a shorter rest isn't told from noise
_AROUND_S = 15.0  # before and after, in which a car without shown speed came nowhere
_LEAST_REACH_M = 8.0
_MOST_REACH_M = 25.0  # else a receiver that claims tens of metres would swallow slow driving
_MOST_WANDER_MPS = 2.5
_STEADY_STEP_S = 5.0
_LONG_REST_S = 90.0  # long enough to show how far the receiver drifts
_MOST_SPREAD_M = 12.5
_AT_ONE_PLACE = 0.8  # of a long rest's fixes


def came_nowhere(t_s: FloatArray, smoothed: Smoothed, drift_m: float) -> BoolArray:
    """Fixes (n,) around which the car came no further than the receiver's drift explains."""
    position_m = smoothed.position_m
    wide_m = 3 * np.sqrt(2) * drift_m
    reach_m = float(np.clip(wide_m, _LEAST_REACH_M, _MOST_REACH_M))

    def at(moment_s: FloatArray) -> FloatArray:
        return np.column_stack([np.interp(moment_s, t_s, axis) for axis in position_m.T])

    before, here, after = at(t_s - _AROUND_S), at(t_s), at(t_s + _AROUND_S)
    across_m = np.hypot(*(after - before).T)
    aside_m = np.hypot(*(2 * here - after - before).T) / 2  # half-way out and back again
    speed_mps = np.hypot(*smoothed.velocity_mps.T)
    found = np.zeros(t_s.size, dtype=bool)
    for first, last in stretches(np.maximum(across_m, aside_m) < reach_m):
        if t_s[last] - t_s[first] < STOP_S:
            continue
        for begin, end in (_extended(first, last, t_s, speed_mps), (first, last)):
            rest = _place(t_s, position_m, begin, end, reach_m)
            if rest is not None:
                found[rest[0] : rest[1] + 1] = True
                break
    return _joined(found, t_s, position_m, max(wide_m, reach_m))


def rest_spread_m(resting: BoolArray, t_s: FloatArray, seen_m: FloatArray) -> float:
    """Standard deviation along one axis of the fixes ``seen_m`` (n, 2) of long rests.

    Of the greatest such spread; 0 where the car never stood long. A rest that drift has cut in
    pieces is taken as one where all of it lies at one place.
    """
    spreads_m = [0.0]
    for first, last in _pieced(resting, t_s, seen_m):
        if t_s[last] - t_s[first] >= _LONG_REST_S:
            spreads_m.append(float(np.sqrt(np.mean(np.var(seen_m[first : last + 1], axis=0)))))
    return min(max(spreads_m), _MOST_SPREAD_M)


def _pieced(resting: BoolArray, t_s: FloatArray, seen_m: FloatArray) -> list[tuple[int, int]]:
    """First and last fix of each rest, its pieces joined."""
    rests: list[tuple[int, int]] = []
    for first, last in stretches(resting):
        if rests:
            begin, end = rests[-1]
            near = t_s[first] - t_s[end] <= _LONG_REST_S
            if near and np.max(_off_m(seen_m[begin : last + 1])) <= _MOST_REACH_M:
                rests[-1] = (begin, last)
                continue
        rests.append((first, last))
    return rests


def first_spread_m(t_s: FloatArray, seen_m: FloatArray) -> float:
    """The same before any rest is found, from the minutes that lie mostly at one place.

    A receiver that claims less than it drifts would hide its rests. 0 where there are none.
    """
    starts_s = ticks(t_s, float(t_s[0]), _LONG_REST_S / 2)
    first = np.searchsorted(t_s, starts_s)
    last = np.searchsorted(t_s, starts_s + _LONG_REST_S) - 1
    near = np.hypot(*(seen_m[last] - seen_m[first]).T) < 4 * _MOST_REACH_M
    long = t_s[last] - t_s[first] > _LONG_REST_S - _STEADY_STEP_S
    spreads_m = []
    for begin, end in zip(first[near & long], last[near & long], strict=True):
        radius_95_m = float(np.quantile(_off_m(seen_m[begin : end + 1]), 0.95))
        if radius_95_m <= _MOST_REACH_M:
            spreads_m.append(radius_95_m / RADIUS_95_TO_SIGMA)
    return min(float(np.median(spreads_m)), _MOST_SPREAD_M) if spreads_m else 0.0


def _place(
    t_s: FloatArray, position_m: FloatArray, first: int, last: int, reach_m: float
) -> tuple[int, int] | None:
    """The part of a stretch, its ends included, that lies at one place; None where it doesn't.

    All of a short one; most of a long one: slow progress adds up and leaves any place behind.
    """
    near = np.flatnonzero(_off_m(position_m[first : last + 1]) <= reach_m)
    enough = _AT_ONE_PLACE if t_s[last] - t_s[first] >= _LONG_REST_S else 1.0
    if near.size < enough * (last - first + 1):
        return None
    return first + int(near[0]), first + int(near[-1])


def _joined(found: BoolArray, t_s: FloatArray, position_m: FloatArray, most_m: float) -> BoolArray:
    """Rests (n,) with the short ways from each back to its own place, which are drift, too."""
    begin = end = -1
    for first, last in stretches(found.copy()):
        if end >= 0 and t_s[first] - t_s[end] <= _LONG_REST_S:
            place_m = np.median(position_m[begin : end + 1], axis=0)
            back_m = np.median(position_m[first : last + 1], axis=0, keepdims=True)
            way_m = np.vstack([position_m[end : first + 1], back_m]) - place_m
            if np.max(np.hypot(*way_m.T)) <= most_m:
                found[end:first] = True
                end = last
                continue
        begin, end = first, last
    return found


def _off_m(position_m: FloatArray) -> FloatArray:
    """How far each of the fixes (k, 2) is from their middle."""
    return np.asarray(np.hypot(*(position_m - np.median(position_m, axis=0)).T))


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
