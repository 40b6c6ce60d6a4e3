"""When the car crossed the line that ends a lap.

The line is the course's gate; without one it is found from the data: the place the car passed
most often in one direction, on the fastest part of the track.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.track import Track
from ebbline.records import FloatArray, Gate

MIN_LAP_M = 150.0  # two crossings closer than this are one
_FOUND_HALF_WIDTH_M = 15.0
_SAME_WAY = 0.5  # cosine between the car's heading and the gate's: within 60 degrees
_CANDIDATES = 60


def crossings_s(track: Track, gate: Gate | None) -> FloatArray:
    """Moments (k,) at which the car crossed the gate, seconds since the epoch.

    Crossings the way of the gate's heading count; on a course driven the other way, those
    against it. Between two fixes the moment is that of the smoothed cubic (linear start, two
    Newton steps). Without a gate one is found; an open track has no crossings.
    """
    if gate is None:
        return _most_passed(track)
    centre = np.column_stack(track.plane.forward(np.array([gate.lat]), np.array([gate.lon])))[0]
    heading = np.radians(gate.heading_deg)
    ahead = np.array([np.sin(heading), np.cos(heading)])
    along_gate = _crossed(track, centre, ahead, gate.half_width_m)
    against = _crossed(track, centre, -ahead, gate.half_width_m)
    return along_gate if along_gate.size >= against.size else against


def _most_passed(track: Track) -> FloatArray:
    """Crossings of the best line we can find; empty when the car never came by twice."""
    steps_m = np.linspace(0, track.along_m[-1], _CANDIDATES + 2)[1:-1]
    index = np.unique(np.searchsorted(track.along_m, steps_m))
    index = index[(index < track.t_s.size) & (track.speed_mps[index] > 3.0)]
    best = np.empty(0)
    best_rank = (1, 0.0)
    for k in index:
        ahead = track.velocity_mps[k] / track.speed_mps[k]
        found = _crossed(track, track.position_m[k], ahead, _FOUND_HALF_WIDTH_M)
        rank = (found.size, float(track.speed_mps[k]))
        if rank > best_rank:
            best, best_rank = found, rank
    return best


def _crossed(
    track: Track, centre_m: FloatArray, ahead: FloatArray, half_width_m: float
) -> FloatArray:
    """Crossings of a line through ``centre_m`` in the direction of unit vector ``ahead``."""
    past_m = (track.position_m - centre_m) @ ahead
    aside_m = (track.position_m - centre_m) @ np.array([ahead[1], -ahead[0]])
    step = np.flatnonzero((past_m[:-1] < 0) & (past_m[1:] >= 0) & ~track.gap)
    share = past_m[step] / (past_m[step] - past_m[step + 1])
    near = np.abs(aside_m[step] + share * (aside_m[step + 1] - aside_m[step])) <= half_width_m
    ahead_mps = track.velocity_mps[step] @ ahead
    near &= ahead_mps > _SAME_WAY * track.speed_mps[step]
    step, share = step[near], share[near]
    at_s = track.t_s[step] + share * np.diff(track.t_s)[step]
    for _ in range(2):
        miss_m = (track.position_at(at_s) - centre_m) @ ahead
        pace_mps = np.maximum(ahead_mps[near], 0.5)
        at_s = np.clip(at_s - miss_m / pace_mps, track.t_s[step], track.t_s[step + 1])
    return _apart(at_s, track)


def _apart(at_s: FloatArray, track: Track) -> FloatArray:
    """Drop a crossing that follows another within less than any lap."""
    kept: list[float] = []
    along_m = track.along_at(at_s)
    last_m = -np.inf
    for moment, here_m in zip(at_s, along_m, strict=True):
        if here_m - last_m >= MIN_LAP_M:
            kept.append(float(moment))
            last_m = here_m
    return np.array(kept)
