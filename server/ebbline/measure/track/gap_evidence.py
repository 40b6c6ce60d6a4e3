"""What the track says of a gap in it: how far its ends lie apart, and how the car drives elsewhere.

Nothing here decides what happened in the gap. The chord and the speeds at both ends are its own;
the pace at which the car would have driven on, with the uncertainty of that rule, is learnt from
stretches of the same duration elsewhere; and where the car passed both ends on other laps, the
length can only be what it drove between them then, and whole laps more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.records.arrays import BoolArray, FloatArray, IntArray

_NEAR_M = 20.0  # another pass of the same place
_SAME_WAY = 0.7  # cosine between the headings of two passes
_PASSING_MPS = 0.5
_LEAST_LAP_M = 150.0
_ARRIVED_M = 15.0  # a car that stood at both ends within this did not drive
_TRIALS = 400  # stretches on which the rule of the two speeds is tried
_FEWEST_TRIALS = 10
_FEWEST_INDEPENDENT = 3.0
_LEAST_TRIED_S = 4.0
_UNTRIED_SHARE = 0.25  # the rule's uncertainty where there is nothing to try it on
_MOST_LAPS = 10_000  # in a gap of weeks whole laps tell nothing
_LEAST_SD_M = 1.0
# Speeds are forgotten over so long, and how much of an end's speed is left after a time is unsure
# by so much, where the stretches tried say nothing of it (common practice, no source).
_FORGOTTEN_S, _KEPT_SD, _TOLD_MPS = 30.0, 0.3, 0.5
_FASTER = 1.15  # in a gap than anywhere else on the track (common practice, no source)
_DRIFT_S = 60.0  # over which a receiver's position error changes


@dataclass(frozen=True, slots=True, eq=False)
class GapEvidence:
    """What is known of one gap.

    ``start``: the fix before it; ``from_s`` its moment; ``start_mps`` and ``end_mps`` the speeds
    at its ends, ``chord_m`` straight across, with its standard deviation. ``pace_mps`` is the mean
    speed had the car driven on, off by a Student variable of ``pace_dof`` times ``pace_sd_mps``;
    ``top_mps`` no mean speed is above; ``usual_mps``
    the median while moving. ``routes_m`` (k,) are the lengths that other passes of both ends
    allow, each unsure by ``route_sd_m``; with ``laps_known`` they are all that the course allows.
    ``as_near`` is the share of stretches of the same duration elsewhere whose ends lie as near to
    each other. ``parked``: it stood at both ends, in one place. What was noted, in seconds into the
    gap: ``still_s``, from when to when the car stood at least; ``coasting_from_s``, since when
    (before the gap if negative) nothing drove it.
    """

    start: int
    from_s: float
    lasting_s: float
    start_mps: float
    end_mps: float
    chord_m: float
    chord_sd_m: float
    pace_mps: float
    pace_sd_mps: float
    pace_dof: float
    top_mps: float
    usual_mps: float
    routes_m: FloatArray
    route_sd_m: float
    laps_known: bool
    as_near: float
    parked: bool
    still_s: tuple[float, float] | None = None
    coasting_from_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The track at its fixes (n,) with what the gaps leave of it: ``along_m`` counts no gap, and
    ``seen_s`` is how long it is without them.
    """

    t_s: FloatArray
    position_m: FloatArray
    velocity_mps: FloatArray
    speed_mps: FloatArray
    ahead: FloatArray
    along_m: FloatArray
    gaps_before: IntArray
    stops_before: IntArray
    seen_s: float


def gap_evidence(
    t_s: FloatArray,
    position_m: FloatArray,
    velocity_mps: FloatArray,
    speed_mps: FloatArray,
    stopped: BoolArray,
    gap: BoolArray,
    step_m: FloatArray,
    position_sd_m: float,
) -> tuple[GapEvidence, ...]:
    """What the track (n,) says of each of its gaps (n-1,), in order of time.

    ``step_m`` (n-1,) holds the steps' lengths by the speeds at both ends; those of gaps are not
    used. ``position_sd_m`` is how far the receiver's positions drift, one axis.
    """
    if not np.any(gap):
        return ()
    seen = _Seen(
        t_s,
        position_m,
        velocity_mps,
        speed_mps,
        _headings(velocity_mps, stopped),
        np.concatenate([[0.0], np.cumsum(np.where(gap, 0.0, step_m))]),
        np.concatenate([[0], np.cumsum(gap)]),
        np.concatenate([[0], np.cumsum(stopped[1:] | stopped[:-1])]),
        float(np.sum(np.diff(t_s)[~gap])),
    )
    moving = speed_mps[~stopped]
    usual_mps = float(np.median(moving)) if moving.size else 0.0
    top_mps = _FASTER * float(np.max(speed_mps))
    found = []
    for start in np.flatnonzero(gap).tolist():
        lasting_s = float(t_s[start + 1] - t_s[start])
        ends_mps = (float(speed_mps[start]), float(speed_mps[start + 1]))
        chord_m = float(np.hypot(*(position_m[start + 1] - position_m[start])))
        changed = min(1.0, lasting_s / _DRIFT_S)
        pace_mps, pace_sd_mps, pace_dof = _pace(seen, sum(ends_mps) / 2, lasting_s, usual_mps)
        routes_m, route_sd_m, laps_known = _routes(
            seen, start, max(chord_m, top_mps * lasting_s), position_sd_m
        )
        found.append(
            GapEvidence(
                start=start,
                from_s=float(t_s[start]),
                lasting_s=lasting_s,
                start_mps=ends_mps[0],
                end_mps=ends_mps[1],
                chord_m=chord_m,
                chord_sd_m=math.hypot(_LEAST_SD_M, math.sqrt(2 * changed) * position_sd_m),
                pace_mps=min(pace_mps, top_mps),
                pace_sd_mps=max(pace_sd_mps, _LEAST_SD_M / lasting_s),
                pace_dof=pace_dof,
                top_mps=top_mps,
                usual_mps=usual_mps,
                routes_m=routes_m,
                route_sd_m=route_sd_m,
                laps_known=laps_known,
                as_near=_as_near(seen, chord_m, lasting_s),
                parked=bool(stopped[start] and stopped[start + 1]) and chord_m < _ARRIVED_M,
            )
        )
    return tuple(found)


def _headings(velocity_mps: FloatArray, stopped: BoolArray) -> FloatArray:
    """Which way the car faced, unit vectors (n, 2); at rest as it came, or as it went first."""
    speed = np.hypot(*velocity_mps.T)
    told = np.flatnonzero(~stopped & (speed > _PASSING_MPS))
    if told.size == 0:
        return np.zeros_like(velocity_mps)
    latest = np.maximum(np.searchsorted(told, np.arange(speed.size), side="right") - 1, 0)
    index = told[latest]
    return np.asarray(velocity_mps[index] / speed[index, None])


def _pace(
    seen: _Seen, ends_mps: float, lasting_s: float, usual_mps: float
) -> tuple[float, float, float]:
    """Mean speed of a car that drives on over a time, its standard deviation and what that rests
    on: degrees of freedom.

    The mean of the speeds at both ends, drawn towards the usual pace as far as it is on stretches
    without a stop of the same duration elsewhere; over a time longer than any of them the longest
    ones say how far the rule is off, which is rather too much. It is the forecast of one more
    stretch from as many independent ones as the track has room for (Student's distribution).
    """
    tried_s = lasting_s
    start, end = _trials(seen, tried_s)
    while start.size < _FEWEST_TRIALS and tried_s > _LEAST_TRIED_S:
        tried_s /= 2
        start, end = _trials(seen, tried_s)
    if start.size < _FEWEST_TRIALS:
        pace_mps = usual_mps + _kept(lasting_s) * (ends_mps - usual_mps)
        sd_mps = math.hypot(_UNTRIED_SHARE * pace_mps, _KEPT_SD * (ends_mps - usual_mps))
        return pace_mps, sd_mps, _FEWEST_TRIALS
    pace = (seen.along_m[end] - seen.along_m[start]) / (seen.t_s[end] - seen.t_s[start])
    mean_mps = float(np.mean(pace))
    by_ends = (seen.speed_mps[start] + seen.speed_mps[end]) / 2 - mean_mps
    weight, told = start.size * _TOLD_MPS**2, float(np.sum(by_ends**2))
    kept_tried = (weight * _kept(tried_s) + float(np.sum(by_ends * (pace - mean_mps)))) / (
        weight + told
    )
    kept_tried = float(np.clip(kept_tried, 0.0, 1.0))
    kept = kept_tried * _kept(lasting_s) / _kept(tried_s)
    rule_sd_mps = float(np.sqrt(np.mean((pace - mean_mps - kept_tried * by_ends) ** 2)))
    count = max(seen.seen_s / tried_s, _FEWEST_INDEPENDENT)
    rule_sd_mps *= math.sqrt((count + 1) / (count - 1))
    beyond_mps = max(abs(ends_mps - mean_mps) - 2 * float(np.std(by_ends)), 0.0)
    unsure = _KEPT_SD * 4 * kept * (1 - kept)
    pace_mps = mean_mps + kept * (ends_mps - mean_mps)
    return pace_mps, math.hypot(rule_sd_mps, unsure * beyond_mps), count - 1


def _kept(lasting_s: float) -> float:
    """How much of the ends' speeds is left of the mean over a time, where nothing tells."""
    return 1 / (1 + lasting_s / _FORGOTTEN_S)


def _as_near(seen: _Seen, chord_m: float, lasting_s: float) -> float:
    """Share of stretches of a duration whose ends are no further apart than that, by Laplace's rule
    of succession: of as many independent ones as the track has room for.
    """
    latest = int(np.searchsorted(seen.t_s, seen.t_s[-1] - lasting_s))
    if latest < 2:
        return 1.0
    start = np.unique(np.linspace(0, latest - 1, _TRIALS).astype(np.int64))
    end = np.searchsorted(seen.t_s, seen.t_s[start] + lasting_s)
    whole = seen.gaps_before[end] == seen.gaps_before[start]
    if not np.any(whole):
        return 1.0
    apart_m = np.hypot(*(seen.position_m[end] - seen.position_m[start])[whole].T)
    count = min(seen.seen_s / lasting_s, float(np.count_nonzero(whole)))
    return (float(np.mean(apart_m <= chord_m)) * count + 1) / (count + 2)


def _trials(seen: _Seen, lasting_s: float) -> tuple[IntArray, IntArray]:
    """First and last fixes of stretches of a duration, moving throughout and without a gap."""
    latest = int(np.searchsorted(seen.t_s, seen.t_s[-1] - lasting_s))
    if latest < 2:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    start = np.unique(np.linspace(0, latest - 1, _TRIALS).astype(np.int64))
    end = np.searchsorted(seen.t_s, seen.t_s[start] + lasting_s)
    whole = seen.gaps_before[end] == seen.gaps_before[start]
    whole &= seen.stops_before[end] == seen.stops_before[start]
    return start[whole], end[whole]


def _routes(
    seen: _Seen, start: int, most_m: float, position_sd_m: float
) -> tuple[FloatArray, float, bool]:
    """Lengths (k,) up to ``most_m`` by other passes of both ends, their uncertainty, and whether
    the lap is known that may come on top any number of times.
    """
    first, first_offset_m = _passes(seen, start)
    last, last_offset_m = _passes(seen, start + 1)
    lengths = [
        length
        for i, offset_m in zip(first, first_offset_m, strict=True)
        if (length := _to_next(seen, i, offset_m, last, last_offset_m)) is not None
    ]
    if not lengths:
        return np.empty(0), 0.0, False
    lap_m = _lap_m(seen, first, first_offset_m)
    if lap_m is None:
        lap_m = _lap_m(seen, last, last_offset_m)
    lengths_m = np.array(lengths)
    if lap_m is not None:
        lengths_m -= lap_m * np.round((lengths_m - lengths_m[0]) / lap_m)
    base_m = float(np.median(lengths_m))
    apart_m = MAD_TO_SIGMA * float(np.median(np.abs(lengths_m - base_m)))
    sd_m = math.hypot(_LEAST_SD_M, math.sqrt(2) * position_sd_m, apart_m)
    if lap_m is None:
        return np.array([base_m]), sd_m, False
    if most_m > _MOST_LAPS * lap_m:
        return np.empty(0), 0.0, False
    base_m -= lap_m * math.floor(base_m / lap_m)
    routes_m = base_m + lap_m * np.arange(-1, max(math.ceil((most_m - base_m) / lap_m), 0) + 1)
    # the car at one place at both ends may be taken for one that nearly went round
    return np.maximum(routes_m[routes_m > -3 * sd_m - _LEAST_SD_M], 0.0), sd_m, True


def _to_next(
    seen: _Seen, i: int, offset_m: float, last: IntArray, last_offset_m: FloatArray
) -> float | None:
    """From one pass of the gap's start to the next of its end; None where a gap lies between."""
    later = np.flatnonzero(last > i)
    if later.size == 0:
        return None
    j = last[later[0]]
    if seen.gaps_before[i] != seen.gaps_before[j]:
        return None
    return float(seen.along_m[j] - seen.along_m[i] + last_offset_m[later[0]] - offset_m)


def _lap_m(seen: _Seen, passes: IntArray, offset_m: FloatArray) -> float | None:
    """From one pass of a place to the next, the median."""
    whole = seen.gaps_before[passes[1:]] == seen.gaps_before[passes[:-1]]
    laps_m = np.diff(seen.along_m[passes] + offset_m)[whole]
    return float(np.median(laps_m)) if laps_m.size else None


def _passes(seen: _Seen, k: int) -> tuple[IntArray, FloatArray]:
    """Fixes nearest to fix k on each pass of its place, and how far ahead of them it lies."""
    offset = seen.position_m[k] - seen.position_m
    speed = np.hypot(*seen.velocity_mps.T)
    near = np.hypot(*offset.T) < _NEAR_M + speed  # at 1 Hz two fixes are a second's way apart
    near &= (seen.ahead @ seen.ahead[k] > _SAME_WAY) & (speed > _PASSING_MPS)
    index = np.array(
        [
            first + int(np.argmin(np.hypot(*offset[first : last + 1].T)))
            for first, last in stretches(near)
        ],
        dtype=np.int64,
    )
    ahead = seen.ahead[index]
    aside_m = np.abs(np.sum(offset[index] * np.column_stack([ahead[:, 1], -ahead[:, 0]]), axis=1))
    kept = aside_m < _NEAR_M
    # one that follows another within less than any lap is none
    kept[1:] &= np.diff(seen.along_m[index]) > _LEAST_LAP_M
    return index[kept], np.asarray(np.sum(offset[index] * ahead, axis=1))[kept]
