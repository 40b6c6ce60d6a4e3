"""When the car crossed the line that ends a lap.

The line is the course's gate; without one it is found from the data: the place the car passed
most often in one direction, on the fastest part of the track.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.track.track import Track
from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.setup import Gate

MIN_LAP_M = 150.0  # two crossings closer than this are one
_FOUND_HALF_WIDTH_M = 15.0
_SAME_WAY = 0.5  # cosine between the car's heading and the gate's: within 60 degrees
_CANDIDATES = 60
_NEWTON_STEPS = 4


def crossings_s(track: Track, gate: Gate | None) -> FloatArray:
    """Moments (k,) at which the car crossed the gate, seconds since the epoch.

    Crossings the way of the gate's heading count; on a course driven the other way, those
    against it. Between two fixes the moment is that of the smoothed cubic. Without a gate one is
    found; an open track has no crossings.
    """
    if gate is None:
        return _most_passed(track)
    centre = np.column_stack(track.plane.forward(np.array([gate.lat]), np.array([gate.lon])))[0]
    heading = np.radians(gate.heading_deg)
    ahead = np.array([np.sin(heading), np.cos(heading)])
    along_gate = _crossed(track, _Line(centre, ahead, gate.half_width_m))
    against = _crossed(track, _Line(centre, -ahead, gate.half_width_m))
    return along_gate if along_gate.size >= against.size else against


def _most_passed(track: Track) -> FloatArray:
    """Crossings of the best line we can find; empty when the car never came by twice."""
    steps_m = np.linspace(0, track.along_m[-1], _CANDIDATES + 2)[1:-1]
    index = np.unique(np.searchsorted(track.along_m, steps_m))
    index = index[(index < track.t_s.size) & (track.speed_mps[index] > 3.0)]
    best: _Line | None = None
    best_rank = (1, 0.0)
    for k in index:
        ahead = track.velocity_mps[k] / track.speed_mps[k]
        line = _Line(track.position_m[k], ahead, _FOUND_HALF_WIDTH_M)
        step, share = _steps_across(track, line)
        passes = _apart(track.along_m[step] + share * np.diff(track.along_m)[step])
        rank = (int(np.count_nonzero(passes)), float(track.speed_mps[k]))
        if rank > best_rank:
            best, best_rank = line, rank
    return np.empty(0) if best is None else _crossed(track, best)


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """A line across the course: its middle, the way over it, half its width."""

    centre_m: FloatArray
    ahead: FloatArray
    half_width_m: float


def _crossed(track: Track, line: _Line) -> FloatArray:
    """Moments of crossing: linear between fixes, then Newton's steps on the cubic.

    Its own slope, not that of the step's first fix: in a step of ten seconds a car doubles its
    speed.
    """
    step, share = _steps_across(track, line)
    at_s = track.t_s[step] + share * np.diff(track.t_s)[step]
    slope_mps = track.path.derivative()
    for _ in range(_NEWTON_STEPS):
        miss_m = (track.path(at_s) - line.centre_m) @ line.ahead
        pace_mps = np.maximum(slope_mps(at_s) @ line.ahead, 0.5)
        at_s = np.clip(at_s - miss_m / pace_mps, track.t_s[step], track.t_s[step + 1])
    return at_s[_apart(track.along_at(at_s))]


def _steps_across(track: Track, line: _Line) -> tuple[IntArray, FloatArray]:
    """Steps that cross the line its way, within its width, and where in the step, 0 to 1."""
    past_m = (track.position_m - line.centre_m) @ line.ahead
    step = np.flatnonzero((past_m[:-1] < 0) & (past_m[1:] >= 0) & ~track.gap)
    share = past_m[step] / (past_m[step] - past_m[step + 1])
    aside = np.array([line.ahead[1], -line.ahead[0]])
    before_m = (track.position_m[step] - line.centre_m) @ aside
    after_m = (track.position_m[step + 1] - line.centre_m) @ aside
    near = np.abs(before_m + share * (after_m - before_m)) <= line.half_width_m
    near &= track.velocity_mps[step] @ line.ahead > _SAME_WAY * track.speed_mps[step]
    return step[near], share[near]


def _apart(along_m: FloatArray) -> BoolArray:
    """Which crossings (k,) to keep: one that follows another within less than any lap is none."""
    keep = np.zeros(along_m.size, dtype=bool)
    last_m = -np.inf
    for k, here_m in enumerate(along_m):
        if here_m - last_m >= MIN_LAP_M:
            keep[k] = True
            last_m = here_m
    return keep
