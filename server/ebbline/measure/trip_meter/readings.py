"""Readings of the car's trip meter, made ready to be compared with our distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.display import interval_of
from ebbline.measure.time.moments import TimedReading
from ebbline.measure.track.track import Track
from ebbline.measure.units import factor
from ebbline.records.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class TripReadings:
    """What the trip meter showed, (n,) each: when, how fast the car was, and the distance.

    ``at_sd_s`` is the uncertainty of the moment, ``rounding_sd_m`` that of the display.
    """

    at_s: FloatArray
    at_sd_s: FloatArray
    speed_mps: FloatArray
    shown_m: FloatArray
    rounding_sd_m: FloatArray

    def sd_m(self, more_s: float = 0.0) -> FloatArray:
        """Standard deviation of each distance, (n,); ``more_s`` adds to that of each moment."""
        timing_m = self.speed_mps * np.hypot(self.at_sd_s, more_s)
        return np.hypot(self.rounding_sd_m, timing_m)


def on_track(track: Track, readings: list[TimedReading]) -> list[TimedReading]:
    """Those of a trip distance whose moment the track covers."""
    return [
        timed
        for timed in readings
        if timed.reading.quantity == "trip_distance"
        and bool(track.covers(np.array([timed.moment.t_s]))[0])
    ]


def in_metres(track: Track, rows: list[TimedReading]) -> TripReadings:
    """Readings of a trip distance, at least one, with their uncertainties.

    Rounding is taken as uniform, r/sqrt(12) (JCGM 100:2008, F.2.2.1).
    """
    at_s = np.array([timed.moment.t_s for timed in rows])
    bounds = np.array([interval_of(timed.reading) for timed in rows])
    to_m = np.array([factor(timed.reading.unit, "m") for timed in rows])
    return TripReadings(
        at_s=at_s,
        at_sd_s=np.array([timed.moment.sd_s for timed in rows]),
        speed_mps=track.speed_at(at_s),
        shown_m=bounds.mean(axis=1) * to_m,
        rounding_sd_m=(bounds[:, 1] - bounds[:, 0]) * to_m / np.sqrt(12),
    )
