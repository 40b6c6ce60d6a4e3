"""Several phones in one car: their clocks put together by where they say the car was.

Another phone's clock is off by the shift, and its drift, that brings its fixes onto the leader's
track; where that contradicts the offset it was declared with, the tracks are believed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.measure.time.clock import ClockCorrection
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray
from ebbline.records.result import Finding

SEARCH_S = 120.0  # how far a declared clock may be off
_COARSE_S = 1.0
_SAMPLE = 600  # fixes compared in the coarse search
_LEAST_FIXES = 60  # common ones while moving, to say anything
_MOVING_MPS = 3.0
_FORGOTTEN_S = 60.0  # receivers' errors are independent after about so long
_STRANGER_M = 30.0  # tracks further apart than this aren't of one car
_AS_GOOD_M = 6.0  # two shifts whose tracks are this little different fit equally
_ROUNDS = 6


@dataclass(frozen=True, slots=True)
class Alignment:
    """How far one device's clock is behind the leader's, and how sure that is."""

    correction: ClockCorrection
    apart_m: float  # typical distance between the two tracks afterwards


def align(fixes: Fixes, leader: Track) -> Alignment | None:
    """The clock shift and drift that bring fixes onto the leader's track; None if untellable.

    Along the track a shift of dt moves a fix by speed times dt, so each fix gives a shift; a
    line through them (robust, by medians of deviations) gives offset and drift.
    """
    coarse = coarse_shift(fixes, leader, _LEAST_FIXES)
    if coarse is None:
        return None
    offset_s, drift, middle_s = coarse[0], 0.0, float(np.mean(fixes.t_s))
    position_m = np.column_stack(leader.plane.forward(fixes.lat, fixes.lon))
    weight = np.zeros(fixes.t_s.size)
    left_s = weight
    for _ in range(_ROUNDS):
        at_s = fixes.t_s + offset_s + drift * (fixes.t_s - middle_s)
        shift_s, speed_mps = _shift_of_each(position_m, at_s, leader)
        usable = (speed_mps > _MOVING_MPS) & np.isfinite(shift_s)
        if np.count_nonzero(usable) < _LEAST_FIXES:
            return None
        typical_s = MAD_TO_SIGMA * float(np.median(np.abs(shift_s[usable]))) + 1e-3
        weight = usable * speed_mps**2 * (np.abs(np.nan_to_num(shift_s)) < 4 * typical_s)
        line = np.polynomial.polynomial.polyfit(
            fixes.t_s - middle_s, np.where(usable, shift_s, 0.0), 1, w=np.sqrt(weight)
        )
        offset_s, drift = offset_s + float(line[0]), drift + float(line[1])
        left_s = np.where(usable, shift_s, 0.0)
    counted = weight > 0
    apart_m = float(np.median(np.abs(left_s[counted]) * np.sqrt(weight[counted])))
    if apart_m > _STRANGER_M:
        return None
    lasting_s = float(np.ptp(fixes.t_s[counted]))
    independent = max(lasting_s / _FORGOTTEN_S, 1.0)
    spread_s = float(np.std(left_s[counted]))
    return Alignment(
        ClockCorrection(offset_s, drift, middle_s, spread_s / math.sqrt(independent)), apart_m
    )


def disagreement(device: str, alignment: Alignment, declared_sd_s: float) -> Finding | None:
    """The finding when the tracks contradict the declared clock; None when they don't."""
    found = alignment.correction
    doubt_s = math.hypot(found.sd_s, declared_sd_s)
    if abs(found.offset_s) <= max(3 * doubt_s, 0.5):
        return None
    drift_ppm = found.drift * 1e6
    return Finding(
        "doubt",
        "clock_by_track",
        f"By its track the clock of {device} is {-found.offset_s:+.1f} s off what was declared "
        f"(drifting {drift_ppm:+.0f} parts per million); the track is believed.",
        f"devices {device}",
    )


def coarse_shift(fixes: Fixes, leader: Track, least: int) -> tuple[float, float] | None:
    """The whole-second shift with the least typical distance to the leader's track, and both.

    None with fewer than ``least`` fixes that may be at the same time.

    On a course driven lap after lap a whole lap's shift fits as well; the least shift is taken.
    """
    common = np.flatnonzero(
        (fixes.t_s > leader.t_s[0] - SEARCH_S) & (fixes.t_s < leader.t_s[-1] + SEARCH_S)
    )
    if common.size < least:
        return None
    chosen = common[np.linspace(0, common.size - 1, min(_SAMPLE, common.size)).astype(int)]
    position_m = np.column_stack(leader.plane.forward(fixes.lat[chosen], fixes.lon[chosen]))
    shifts_s = np.arange(-SEARCH_S, SEARCH_S + _COARSE_S, _COARSE_S)
    apart_m = np.array(
        [
            float(np.median(np.hypot(*(leader.position_at(fixes.t_s[chosen] + s) - position_m).T)))
            for s in shifts_s
        ]
    )
    as_good = np.flatnonzero(apart_m <= np.min(apart_m) + _AS_GOOD_M)
    best = as_good[np.argmin(np.abs(shifts_s[as_good]))]
    return float(shifts_s[best]), float(apart_m[best])


def _shift_of_each(
    position_m: FloatArray, at_s: FloatArray, leader: Track
) -> tuple[FloatArray, FloatArray]:
    """What shift each fix asks for at moments (n,), and the leader's speed there; NaN off it."""
    velocity_mps = np.asarray(leader.path(np.clip(at_s, leader.t_s[0], leader.t_s[-1]), 1))
    speed_mps = np.hypot(*velocity_mps.T)
    ahead_m = np.sum((position_m - leader.position_at(at_s)) * velocity_mps, axis=1)
    shift_s = ahead_m / np.maximum(speed_mps, 0.1) ** 2
    inside = (at_s > leader.t_s[0]) & (at_s < leader.t_s[-1]) & ~leader.gap[leader.leg_at(at_s)]
    return np.where(inside, shift_s, np.nan), speed_mps
