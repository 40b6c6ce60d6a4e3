"""Gaps in the fixes, bridged by what the rest of the track teaches.

The motion model alone would go straight across a bend. Instead the length of a gap comes from
the speeds at its two ends, with the doubt that this rule shows on stretches of the same duration
elsewhere on the same track; and, where the car passed both ends on another lap, from the length
it drove between them then.
"""

from __future__ import annotations

import math

import numpy as np

from ebbline.measure.numerics.stretches import stretches
from ebbline.records import BoolArray, FloatArray, IntArray

_NEAR_M = 20.0  # another pass of the same place
_SAME_WAY = 0.7  # cosine between the headings of two passes
_TRIALS = 400  # stretches on which the rule of the two speeds is tried
_UNTRIED_SHARE = 0.25  # its doubt where there is nothing to try it on
_ARRIVED_M = 15.0  # a car that stood at both ends within this did not drive


def bridge(
    t_s: FloatArray,
    position_m: FloatArray,
    velocity_mps: FloatArray,
    stopped: BoolArray,
    gap: BoolArray,
    step_m: FloatArray,
    position_sd_m: float,
) -> tuple[FloatArray, FloatArray]:
    """Step lengths (n-1,) with gaps bridged, and the variance (n-1,) each gap brings, m².

    ``step_m`` holds the lengths by the speeds at both ends; steps that are no gap come back
    unchanged with no variance.
    """
    bridged_m = step_m.copy()
    var_m2 = np.zeros(step_m.size)
    along_m = np.concatenate([[0.0], np.cumsum(np.where(gap, 0.0, step_m))])
    gaps_before = np.concatenate([[0], np.cumsum(gap)])
    for k in np.flatnonzero(gap):
        chord_m = float(np.hypot(*(position_m[k + 1] - position_m[k])))
        if stopped[k] and stopped[k + 1] and chord_m < _ARRIVED_M:
            bridged_m[k] = 0.0
            continue
        lasting_s = float(t_s[k + 1] - t_s[k])
        length_m = max(float(step_m[k]), chord_m)
        sd_m = _doubt_of_speeds(t_s, velocity_mps, along_m, gaps_before, lasting_s)
        sd_m = max(sd_m if math.isfinite(sd_m) else _UNTRIED_SHARE * length_m, 1.0)
        passes_m = _other_laps(int(k), position_m, velocity_mps, along_m, gaps_before)
        passes_m = passes_m[np.abs(passes_m - length_m) < 3 * sd_m + _NEAR_M]
        if passes_m.size:
            by_laps_m = float(np.mean(passes_m))
            laps_sd_m = math.hypot(math.sqrt(2) * position_sd_m, float(np.std(passes_m)))
            weight = sd_m**2 / (sd_m**2 + laps_sd_m**2)
            length_m += weight * (by_laps_m - length_m)
            sd_m = math.sqrt(weight) * laps_sd_m
        bridged_m[k] = length_m
        var_m2[k] = sd_m**2
    return bridged_m, var_m2


def _doubt_of_speeds(
    t_s: FloatArray,
    velocity_mps: FloatArray,
    along_m: FloatArray,
    gaps_before: IntArray,
    lasting_s: float,
) -> float:
    """Root mean square error of 'mean of both speeds times duration' on this track; NaN untried."""
    speed = np.hypot(*velocity_mps.T)
    latest = int(np.searchsorted(t_s, t_s[-1] - lasting_s))
    if latest < 2:
        return math.nan
    start = np.unique(np.linspace(0, latest - 1, _TRIALS).astype(int))
    end = np.searchsorted(t_s, t_s[start] + lasting_s)
    whole = (gaps_before[end] == gaps_before[start]) & (speed[start] > 1.0)
    start, end = start[whole], end[whole]
    if start.size < 10:
        return math.nan
    by_speeds_m = (t_s[end] - t_s[start]) * (speed[start] + speed[end]) / 2
    return float(np.sqrt(np.mean((along_m[end] - along_m[start] - by_speeds_m) ** 2)))


def _other_laps(
    k: int,
    position_m: FloatArray,
    velocity_mps: FloatArray,
    along_m: FloatArray,
    gaps_before: IntArray,
) -> FloatArray:
    """Distances the car drove on other passes from where the gap begins to where it ends."""
    first, first_offset_m = _passes(k, position_m, velocity_mps)
    last, last_offset_m = _passes(k + 1, position_m, velocity_mps)
    start, end = np.meshgrid(np.arange(first.size), np.arange(last.size), indexing="ij")
    i, j = first[start], last[end]
    whole = (j > i) & (gaps_before[i] == gaps_before[j])
    length_m = along_m[j] - along_m[i] + last_offset_m[end] - first_offset_m[start]
    return np.asarray(length_m[whole])


def _passes(
    k: int, position_m: FloatArray, velocity_mps: FloatArray
) -> tuple[IntArray, FloatArray]:
    """Fixes nearest to fix k on each pass of its place, and how far ahead of them it lies."""
    speed = np.hypot(*velocity_mps.T)
    offset = position_m[k] - position_m
    near = np.hypot(*offset.T) < _NEAR_M + speed  # at 1 Hz two fixes are a second's way apart
    near &= velocity_mps @ velocity_mps[k] > _SAME_WAY * speed * speed[k]
    index = np.array(
        [
            first + int(np.argmin(np.hypot(*offset[first : last + 1].T)))
            for first, last in stretches(near)
        ],
        dtype=np.int64,
    )
    ahead = velocity_mps[index] / np.maximum(speed[index], 1e-6)[:, None]
    aside_m = np.abs(np.sum(offset[index] * np.column_stack([ahead[:, 1], -ahead[:, 0]]), axis=1))
    index, ahead = index[aside_m < _NEAR_M], ahead[aside_m < _NEAR_M]
    return index, np.asarray(np.sum(offset[index] * ahead, axis=1))
