"""The car's trip meter against our distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular

from ebbline.measure import quantity
from ebbline.measure.laps.ruler import Ruler, distances_at
from ebbline.measure.numerics.least_squares import weighted_fit
from ebbline.measure.time.moments import Events, Moment, TimedEvent, TimedReading
from ebbline.measure.track.track import Track
from ebbline.measure.trip_meter.readings import in_metres, on_track
from ebbline.records.result import Finding, TripCheck

# The car's meter against the ground when it was not compared (common practice, no source):
# tyre wear and pressure.
USUAL_RATIO_SD = 0.015
_LEAST_SPAN_M = 500.0
_LEAST_SD_M = 0.1  # of one reading: finer steps than this say nothing of a car


@dataclass(frozen=True, slots=True)
class TripMeter:
    """The car's distance is ``ratio`` times ours, with standard deviation ``sd``."""

    ratio: float = 1.0
    sd: float = USUAL_RATIO_SD
    compared: bool = False

    def check(self) -> TripCheck | None:
        """The check for the result document; None when nothing was compared."""
        ratio = quantity.normal(self.ratio, self.sd, floor=0.0)
        if not self.compared or ratio is None:
            return None
        return TripCheck(ratio, ratio.low <= 1.0 <= ratio.high)


def compare_trip(
    track: Track | None, ruler: Ruler | None, readings: list[TimedReading], events: Events
) -> tuple[TripMeter, list[Finding]]:
    """Fit the car's trip readings to our distance since the last reset before each.

    With a reset in the session the line goes through zero; a trip meter that ran before has an
    unknown start, which is fitted too.
    """
    if track is None:
        return TripMeter(), []
    rows = [
        (timed, events.last("trip_reset", timed.moment.t_s)) for timed in on_track(track, readings)
    ]
    if not rows:
        return TripMeter(), []
    since_reset = [row for row in rows if row[1] is not None]
    fit = _fit(track, ruler, since_reset) if since_reset else None
    without = [row for row in rows if row[1] is None]
    if fit is None and len(without) >= 2:
        fit = _fit(track, ruler, without)
    if fit is None:
        return TripMeter(), []
    meter = TripMeter(fit[0], fit[1], compared=True)
    check = meter.check()
    if check is None or check.agrees:
        return meter, []
    return meter, [
        Finding(
            "doubt",
            "trip_meter_disagrees",
            f"The car's trip meter reads {abs(meter.ratio - 1) * 100:.2f} % "
            f"{'high' if meter.ratio > 1 else 'low'} against the track, more than both "
            f"uncertainties allow. The track's distance is kept.",
            "readings of trip_distance",
        )
    ]


def _fit(
    track: Track, ruler: Ruler | None, rows: list[tuple[TimedReading, TimedEvent | None]]
) -> tuple[float, float] | None:
    """Slope of trip reading against our distance and its standard deviation.

    Readings since one reset share its uncertainty, and all share that of our distance: generalised
    least squares, by whitening with the Cholesky factor of the errors' covariance.
    """
    trip = in_metres(track, [timed for timed, _ in rows])
    n = trip.at_s.size
    origin = [reset.moment if reset else Moment(float(trip.at_s[0]), 0.0) for _, reset in rows]
    from_s = np.array([moment.t_s for moment in origin])
    distances = distances_at(track, np.concatenate([trip.at_s, from_s]), ruler)
    ours_m = distances.along_m[:n] - distances.along_m[n:]
    if not np.all(np.isfinite(ours_m)) or np.max(np.abs(ours_m)) < _LEAST_SPAN_M:
        return None
    since = np.hstack([np.eye(n), -np.eye(n)])
    start_m = track.speed_at(from_s) * np.array([moment.sd_s for moment in origin])
    same_start = from_s[:, None] == from_s
    covariance = (
        np.diag(np.maximum(trip.sd_m(), _LEAST_SD_M) ** 2)
        + same_start * np.outer(start_m, start_m)
        + since @ distances.total_covariance() @ since.T
    )
    columns = [ours_m] if rows[0][1] is not None else [ours_m, np.ones(n)]
    factor = np.linalg.cholesky(covariance)
    white = solve_triangular(factor, np.column_stack([*columns, trip.shown_m]), lower=True)
    slope, covariance_of_fit = weighted_fit(white[:, :-1], white[:, -1], np.ones(n))
    return float(slope[0]), float(np.sqrt(covariance_of_fit[0, 0]))
