"""How late readings were noted, where nobody said: the trip meter tells the time.

A passenger reads the display, does something else, and types what they remember. A trip distance
shown then lies behind how far the car has come when it is noted; over a run, how far behind says
how late (mean and spread), whatever the meter's own scale is. Other readings of the same hands are
taken to be as late.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ebbline.measure.numerics.least_squares import weighted_fit
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.measure.track.gap_passages import Passages
from ebbline.measure.track.track import Track
from ebbline.measure.trip_meter.readings import in_metres, on_track
from ebbline.records.arrays import FloatArray
from ebbline.records.result import Finding
from ebbline.records.setup import Delay, Protocol

_FEWEST = 6  # readings of trip distance that can tell their lateness from the meter's scale
_SPREADS_S = np.array([0.0, 1.0, 2.0, 3.0, 4.5, 6.0, 8.0, 11.0, 15.0])
_MOVING_MPS = 3.0
UNSURE_GAP_M = 20.0  # a length known to within this is not told better by steps of 0.1 km
# Two figures more must make the readings so much likelier (-2 log): by chance once in 400.
_TELLING = 12.0


def shift_late_readings(
    track: Track | None, readings: list[TimedReading], events: Events, protocol: Protocol
) -> tuple[list[TimedReading], list[Finding]]:
    """Readings put back by how late they were noted, where the trip meter shows it.

    Where the protocol states how late, nothing is left to find out.
    """
    late = None
    if track is not None and protocol.reading_delay is None:
        late = _lateness(track, readings, [timed.moment for timed in events.of("trip_reset")])
    if late is None:
        return readings, []
    return [_earlier(timed, late) for timed in readings], [
        Finding(
            "doubt",
            "readings_noted_late",
            f"The trip distances noted lie behind the car: readings were noted about "
            f"{late.mean_s:.0f} s late, give or take {late.sd_s:.0f} s. All readings but those "
            f"from photos and films are moved back by that; enter how late they were if you know "
            f"better.",
            "readings of trip_distance",
        )
    ]


def _earlier(timed: TimedReading, late: Delay) -> TimedReading:
    if timed.reading.seen:
        return timed
    moment = Moment(timed.moment.t_s - late.mean_s, math.hypot(timed.moment.sd_s, late.sd_s))
    return replace(timed, moment=moment)


def _lateness(track: Track, readings: list[TimedReading], resets: list[Moment]) -> Delay | None:
    """Beyond the delay already taken off: mean and spread; None where nothing shows."""
    if not resets:
        return None
    since_s = resets[-1].t_s
    rows = [
        timed
        for timed in on_track(track, readings)
        if not timed.reading.seen
        and timed.moment.t_s > since_s
        and not _unseen_at(track, timed.moment.t_s)
    ]
    if len(rows) < _FEWEST:
        return None
    trip = in_metres(track, rows)
    ours_m = track.along_at(trip.at_s) - track.along_at(np.array([since_s]))
    speed_mps = trip.speed_mps
    if not np.all(np.isfinite(ours_m)) or np.ptp(ours_m) <= 0:
        return None

    def fit(columns: list[FloatArray], spread_s: float) -> tuple[float, FloatArray, FloatArray]:
        """-2 log likelihood, coefficients and their covariance."""
        sd_m = trip.sd_m(spread_s)
        design = np.column_stack(columns)
        found, covariance = weighted_fit(design, trip.shown_m, sd_m)
        misfit = np.sum(((trip.shown_m - design @ found) / sd_m) ** 2)
        return float(misfit + 2 * np.sum(np.log(sd_m))), found, covariance

    if np.max(speed_mps) < _MOVING_MPS:
        return None
    # how far the car came in a gap is not known: from there on a step of any height is allowed
    steps = _unsure_gaps(track, since_s, trip.at_s)
    prompt, _, _ = fit([ours_m, *steps], 0.0)
    tried = [fit([ours_m, -speed_mps, *steps], float(spread_s)) for spread_s in _SPREADS_S]
    cost = np.array([one[0] for one in tried])
    if prompt - cost.min() < _TELLING:
        return None
    weight = np.exp(-(cost - cost.min()) / 2)
    weight /= np.sum(weight)
    each_s = np.array([found[1] / found[0] for _, found, _ in tried])
    mean_s = float(weight @ each_s)
    # How late they were on average is itself unsure, and so is how much that varied.
    own_s2 = np.array([covariance[1, 1] / found[0] ** 2 for _, found, covariance in tried])
    variance_s2 = float(weight @ (_SPREADS_S**2 + own_s2 + (each_s - mean_s) ** 2))
    return Delay(mean_s, math.sqrt(variance_s2)) if mean_s > 0 else None


def _unsure_gaps(track: Track, since_s: float, at_s: FloatArray) -> list[FloatArray]:
    """For each gap of unsure length that has readings on both sides: which (n,) come after it."""
    after = [
        (at_s > known.gap.from_s).astype(float)
        for known in _unsure(track)
        if known.gap.from_s > since_s
    ]
    told = {column.tobytes(): column for column in after if 0 < np.sum(column) < column.size}
    return list(told.values())


def _unseen_at(track: Track, t_s: float) -> bool:
    """Whether a moment lies in a gap of unsure length: where the car was then nobody knows."""
    return any(0 < t_s - known.gap.from_s < known.gap.lasting_s for known in _unsure(track))


def _unsure(track: Track) -> list[Passages]:
    return [
        known for known in track.unseen.passages if float(np.std(known.length_m)) > UNSURE_GAP_M
    ]
