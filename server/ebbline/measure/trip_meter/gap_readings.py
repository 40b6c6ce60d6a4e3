"""What the car's trip meter says of the gaps in the positions.

The meter counted on while nobody saw the car. Of the possibilities of a gap those remain that agree
with what it showed before, in and after it, as far as its rounding, the moments of its readings and
its own scale allow. The scale is not known either, but all readings share it, so that those away
from the gap tell it.

A particle filter: possibilities of one gap after the other are weighed by the readings up to the
next gap and drawn anew in proportion (Gordon, Salmond, Smith 1993, from memory). All errors but the
gaps are normal; a Cholesky factor of their covariance makes each reading's misfit independent of
those before it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular

from ebbline.measure.naming import clock_time, lasting
from ebbline.measure.time.moments import Events, TimedReading
from ebbline.measure.track.distances import gnss_distances
from ebbline.measure.track.gap_passages import (
    POSSIBILITIES,
    Passages,
    Unseen,
    even_chances,
    passages,
)
from ebbline.measure.track.track import Track
from ebbline.measure.trip_meter.comparison import USUAL_RATIO_SD
from ebbline.measure.trip_meter.late_readings import UNSURE_GAP_M
from ebbline.measure.trip_meter.readings import in_metres, on_track
from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.result import Finding

_TRIED = 16 * POSSIBILITIES
_START_UNKNOWN_SD_M = 1e5  # of a meter that ran before the session
_CONTRADICTION = 16.0  # a mean squared misfit that no possibility brings about by chance
_TOLD = 0.5  # a gap narrowed by this is worth telling


@dataclass(frozen=True, slots=True, eq=False)
class _Shown:
    """Readings (n,) in order of time: moments, those they count from, and their distance.

    ``factor`` is the Cholesky factor (n, n) of the covariance of everything but the gaps.
    """

    at_s: FloatArray
    from_s: FloatArray
    trip_m: FloatArray
    factor: FloatArray


def narrow_gaps(
    track: Track | None, readings: list[TimedReading], events: Events
) -> tuple[Track | None, list[Finding]]:
    """The track with what trip readings leave of its gaps' possibilities; deterministic."""
    if track is None or not any(_sd_m(gap) > UNSURE_GAP_M for gap in track.unseen.passages):
        return track, []
    shown = _shown(track, readings, events)
    if shown is None:
        return track, []
    found = _filtered(track, shown)
    if found is None:
        return track, [_contradicted()]
    narrowed = track.with_unseen(found)
    told = [
        now.gap.from_s
        for before, now in zip(track.unseen.passages, found.passages, strict=True)
        if _sd_m(before) > UNSURE_GAP_M and _sd_m(now) < _TOLD * _sd_m(before)
    ]
    return narrowed, [_told(narrowed, told)] if told else []


def _sd_m(gap: Passages) -> float:
    return float(np.std(gap.length_m))


def _shown(track: Track, readings: list[TimedReading], events: Events) -> _Shown | None:
    """The readings with the covariance of what they are off by; None with fewer than two."""
    rows = sorted(on_track(track, readings), key=lambda timed: timed.moment.t_s)
    if not rows:
        return None
    resets = [events.last("trip_reset", timed.moment.t_s) for timed in rows]
    trip = in_metres(track, rows)
    start_s = float(track.t_s[0])
    from_s = np.array([reset.moment.t_s if reset else start_s for reset in resets])
    from_sd_s = np.array([reset.moment.sd_s if reset else 0.0 for reset in resets])
    if not np.all(track.covers(from_s)):
        return None
    same_start = from_s[:, None] == from_s
    start_sd_m = np.where(
        [reset is None for reset in resets],
        _START_UNKNOWN_SD_M,
        track.speed_at(from_s) * from_sd_s,
    )
    n = trip.at_s.size
    since = np.hstack([np.eye(n), -np.eye(n)])
    ours = gnss_distances(track, np.concatenate([trip.at_s, from_s]))
    # by the meter's scale: what it showed, times one over its ratio, is the distance
    scale_m = USUAL_RATIO_SD * trip.shown_m
    covariance = (
        np.diag(np.maximum(trip.sd_m(), 1.0) ** 2)
        + same_start * np.outer(start_sd_m, start_sd_m)
        + since @ ours.covariance @ since.T
        + np.outer(scale_m, scale_m)
    )
    return _Shown(trip.at_s, from_s, trip.shown_m, np.linalg.cholesky(covariance))


def _filtered(track: Track, shown: _Shown) -> Unseen | None:
    """The gaps' possibilities by the readings; None where none comes near them."""
    rng = np.random.default_rng(shown.at_s.size)
    inclination = even_chances(_TRIED)
    missing_m = np.broadcast_to(
        shown.trip_m - (_seen_m(track, shown.at_s) - _seen_m(track, shown.from_s)),
        (_TRIED, shown.at_s.size),
    ).copy()
    misfit = np.zeros_like(missing_m)
    chosen: list[Passages] = []
    gaps = [known.gap for known in track.unseen.passages]
    ends_s = [gap.from_s for gap in gaps[1:]] + [np.inf]
    done = int(np.searchsorted(shown.at_s, gaps[0].from_s))
    _weigh(missing_m, misfit, shown.factor, 0, done)
    for gap, until_s in zip(gaps, ends_s, strict=True):
        tried = passages(gap, inclination)
        chosen.append(tried)
        for k in range(shown.at_s.size):
            way_m = tried.way_m(float(shown.at_s[k])) - tried.way_m(float(shown.from_s[k]))
            missing_m[:, k] -= way_m
        first, done = done, int(np.searchsorted(shown.at_s, until_s))
        if first == done:
            continue
        _weigh(missing_m, misfit, shown.factor, first, done)
        cost = np.sum(misfit[:, first:done] ** 2, axis=1)
        if np.min(cost) / (done - first) > _CONTRADICTION:
            return None
        rows = _drawn(np.exp(-(cost - np.min(cost)) / 2), rng)
        missing_m, misfit, inclination = missing_m[rows], misfit[rows], inclination[rows]
        chosen = [known.part(rows) for known in chosen]
    return Unseen(tuple(chosen)).part(np.arange(0, _TRIED, _TRIED // POSSIBILITIES))


def _seen_m(track: Track, t_s: FloatArray) -> FloatArray:
    """Distance since the first fix at moments (k,) without any gap's."""
    way_m = np.array(
        [[known.way_m(float(at_s))[0] for at_s in t_s] for known in track.unseen.passages]
    )
    return np.asarray(track.along_at(t_s) + track.unseen.apart_m(t_s)[0] - np.sum(way_m, axis=0))


def _weigh(
    missing_m: FloatArray, misfit: FloatArray, factor: FloatArray, first: int, last: int
) -> None:
    """Fill in the misfits (n, k) of some readings, per what each was expected to be off by."""
    if first == last:
        return
    own = missing_m[:, first:last] - misfit[:, :first] @ factor[first:last, :first].T
    misfit[:, first:last] = solve_triangular(factor[first:last, first:last], own.T, lower=True).T


def _drawn(weight: FloatArray, rng: np.random.Generator) -> IntArray:
    """Rows (n,) in proportion to their weights, at even steps (systematic resampling)."""
    summed = np.cumsum(weight) / np.sum(weight)
    steps = (np.arange(weight.size) + rng.random()) / weight.size
    return np.minimum(np.searchsorted(summed, steps), weight.size - 1)


def _told(track: Track, from_s: list[float]) -> Finding:
    spans = [
        f"from {clock_time(known.gap.from_s)}, {lasting(known.gap.lasting_s)}"
        for known in track.unseen.passages
        if known.gap.from_s in from_s
    ]
    return Finding(
        "note",
        "gaps_by_trip_meter",
        f"What the car's trip meter showed before and after says how far it came in "
        f"{'the gap' if len(spans) == 1 else 'the gaps'} in the positions: {'; '.join(spans)}.",
        "readings of trip_distance",
    )


def _contradicted() -> Finding:
    return Finding(
        "doubt",
        "trip_meter_contradicts_gaps",
        "Nothing that the car can have done in the gaps in the positions agrees with its trip "
        "meter's readings around them; the gaps stay as wide as without. Check the readings and "
        "the trip resets.",
        "readings of trip_distance",
    )
