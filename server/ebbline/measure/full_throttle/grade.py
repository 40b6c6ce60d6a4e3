"""The grade under a stretch of straight course, from the altitudes in the fixes.

A receiver's altitude is metres off and drifts like its position, so one pass over a straight says
little of its grade. Each lap passes it again: the slopes of all passes are averaged by how sure
each is, with a survey's statement where there is one, and held loosely to level ground.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.track.fixes import RADIUS_95_TO_SIGMA
from ebbline.measure.track.receiver_noise import USUAL_DRIFT_S, USUAL_SIGMA_M
from ebbline.measure.track.steps import directions
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.evidence import Breadcrumbs
from ebbline.records.result import Quantity
from ebbline.records.setup import Course

GradeAt = Callable[[float, float], Quantity | None]  # in %, over a stretch by its moments

# An altitude's error against that of a position along one axis (common practice, no source).
_UP_OVER_ALONG = 1.7
# Of a straight on a closed course about level ground (common practice, no source).
_USUAL_GRADE_SD = 0.01
STATED_GRADE_SD_PCT = 0.2  # where nobody says how sure the statement is
_LEAST_HALF_M = 100.0  # of a straight, before and after the middle of the stretch
_MOST_HALF_M = 300.0
_ASIDE_M = 25.0  # another pass is on the same straight
_SAME_WAY = 0.95  # cosine of the angle between two passes
_PASS_BREAK_S = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Altitudes:
    """Altitudes (n,) of one device at session times (n,); ``sd_m`` what one may be off by."""

    t_s: FloatArray
    altitude_m: FloatArray
    sd_m: float


def grades_of(
    track: Track | None,
    crumbs: dict[str, Breadcrumbs],
    clocks: dict[str, DeviceClock],
    course: Course,
) -> GradeAt:
    """The grade under any stretch; altitudes are gathered once, if a grade is asked for."""
    altitudes = cache(lambda: altitudes_of(crumbs, clocks))

    def grade(from_s: float, to_s: float) -> Quantity | None:
        if track is None:
            return None
        return grade_at(track, altitudes(), course, from_s, to_s)

    return grade


def altitudes_of(
    crumbs: dict[str, Breadcrumbs], clocks: dict[str, DeviceClock]
) -> Altitudes | None:
    """Those of the device that has most of them; None where there are none."""
    found: list[Altitudes] = []
    for name, own in crumbs.items():
        if not np.any(known := np.isfinite(own.altitude_m)):
            continue
        session_ms = clocks[name].session_ms(own.t_ms, own.seq)
        order = np.argsort(session_ms, kind="stable")
        order = order[known[order]]
        claimed_m = own.accuracy_m[np.isfinite(own.accuracy_m)] / RADIUS_95_TO_SIGMA
        sigma_m = float(np.median(claimed_m)) if claimed_m.size else USUAL_SIGMA_M
        found.append(
            Altitudes(session_ms[order] / 1000, own.altitude_m[order], _UP_OVER_ALONG * sigma_m)
        )
    return max(found, key=lambda each: each.t_s.size, default=None)


def grade_at(
    track: Track, altitudes: Altitudes | None, course: Course, from_s: float, to_s: float
) -> Quantity | None:
    """Rise per distance in % on the straight of this stretch, uphill positive.

    None where neither altitudes nor a statement tell it.
    """
    known = [] if altitudes is None else _mean(_passes(track, altitudes, from_s, to_s))
    if course.full_throttle_grade_pct is not None:
        sd_pct = course.full_throttle_grade_sd_pct or STATED_GRADE_SD_PCT
        known.append((course.full_throttle_grade_pct / 100, sd_pct / 100))
    if not known:
        return None
    slope, sd = _weighted([*known, (0.0, _USUAL_GRADE_SD)])
    return quantity.normal(100 * slope, 100 * sd)


def _mean(passes: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """All passes as one, if there are any; less sure where they agree less than they should."""
    if not passes:
        return []
    mean, sd = _weighted(passes)
    excess = sum(((slope - mean) / own) ** 2 for slope, own in passes) / max(len(passes) - 1, 1)
    return [(mean, sd * math.sqrt(max(excess, 1.0)))]


def _weighted(slopes: list[tuple[float, float]]) -> tuple[float, float]:
    """Mean weighted by inverse variance, and its standard deviation (JCGM 100:2008, H.5)."""
    values, sds = np.array(slopes).T
    weights = 1 / sds**2
    return float(weights @ values / np.sum(weights)), float(1 / np.sqrt(np.sum(weights)))


def _passes(
    track: Track, altitudes: Altitudes, from_s: float, to_s: float
) -> list[tuple[float, float]]:
    """Slope and its standard deviation by each pass over the straight of a stretch."""
    ends_s = np.array([from_s, (from_s + to_s) / 2, to_s])
    first, middle, last = track.position_at(ends_s)
    ahead = directions((last - first)[None, :])[0]
    half_m = float(np.clip(np.hypot(*(last - first)) / 2, _LEAST_HALF_M, _MOST_HALF_M))
    on_track = (altitudes.t_s >= track.t_s[0]) & (altitudes.t_s <= track.t_s[-1])
    t_s, altitude_m = altitudes.t_s[on_track], altitudes.altitude_m[on_track]
    offset_m = track.position_at(t_s) - middle
    along_m = offset_m @ ahead
    aside_m = offset_m @ np.array([-ahead[1], ahead[0]])
    same_way = directions(track.path(t_s, 1)) @ ahead > _SAME_WAY
    there = (np.abs(along_m) < half_m) & (np.abs(aside_m) < _ASIDE_M) & same_way
    found = []
    for index in _in_one_go(there, t_s):
        length_m = float(np.ptp(along_m[index]))
        if index.size < 3 or length_m < half_m:
            continue
        slope = float(np.polyfit(along_m[index], altitude_m[index], 1)[0])
        lasting_s = float(t_s[index[-1]] - t_s[index[0]])
        # How far a drift forgotten over its usual time goes from one end to the other.
        drifted_m = altitudes.sd_m * math.sqrt(-2 * math.expm1(-lasting_s / USUAL_DRIFT_S))
        found.append((slope, drifted_m / length_m))
    return found


def _in_one_go(there: np.ndarray, t_s: FloatArray) -> list[IntArray]:
    """Indices of each run of fixes on the straight without a long break in time."""
    passes: list[IntArray] = []
    for first, last in stretches(there):
        index = np.arange(first, last + 1)
        breaks = np.flatnonzero(np.diff(t_s[index]) > _PASS_BREAK_S) + 1
        passes += np.split(index, breaks)
    return passes
