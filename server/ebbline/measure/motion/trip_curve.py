"""The car's way where no positions tell it, by its own trip meter.

A reading counts from a reset (or from another reading) within its display's rounding; the meter's
scale against the ground is unknown to a per cent or two and the same for all of them; a reset's tap
is off for all that count from it. Between readings the car drives at a pace that strays
(``distance_process``). Where positions tell a part of the way, that part is taken from them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.laps.ruler import Ruler, distances_at
from ebbline.measure.motion.driving_time import DrivingTime
from ebbline.measure.motion.trip_bounds import TripBound
from ebbline.measure.numerics.distance_process import (
    DistanceProcess,
    SpeedPrior,
    condition_distance,
)
from ebbline.measure.track.distances import Distances
from ebbline.measure.track.track import Track
from ebbline.measure.trip_meter.comparison import USUAL_RATIO_SD
from ebbline.records.arrays import BoolArray, FloatArray

# A drive's speed strays from its mean in bends and at lights, and for minutes as it fades or the
# course opens (common practice, no source); the readings say how far it did.
_PACE_SHARE_SD = 0.5
_STRAYS = ((0.35, 40.0), (0.45, 400.0))
_STRAY_LOG_SD = 1.0
USUAL_PACE_MPS = 15.0
_PACES_MPS = (2.0, 50.0)
_LEAST_DRIVEN_S = 20.0  # over less no pace can be told
_CARRIED_S = 300.0  # of driving, before the first thing known of the way and after the last
_STANDS_S = 600.0  # after which nobody knows whether a car that stood was moved


@dataclass(frozen=True, slots=True, eq=False)
class Positions:
    """A track with its ruler, as the known part of the way."""

    track: Track
    ruler: Ruler | None

    def distances(self, t_s: FloatArray) -> Distances:
        """At moments (k,), held at the track's ends."""
        held_s = np.clip(t_s, self.track.t_s[0], self.track.t_s[-1])
        at_s = np.where(self.track.covers(t_s), t_s, held_s)
        return distances_at(self.track, at_s, self.ruler)


@dataclass(frozen=True, slots=True, eq=False)
class TripCurve:
    """Distance beyond the positions (all of it where there are none), along the time driven.

    ``known_s``: moments at which something is known of the way; ``process`` is None where nothing
    is, and then only how long the car drove.
    """

    driving: DrivingTime
    process: DistanceProcess | None
    known_s: FloatArray
    pace_mps: float
    readings: int

    def covers(self, t_s: FloatArray) -> BoolArray:
        """Which moments (k,) lie near enough to something known."""
        if self.process is None:
            return np.zeros(t_s.size, dtype=bool)
        driven_s, known_s = self.driving.at(t_s), self.driving.at(self.known_s)
        near = np.min(np.abs(driven_s[:, None] - known_s), axis=1) <= _CARRIED_S
        last_s = max(float(self.known_s[-1]), self._stood_from_s()) + _STANDS_S
        return np.asarray(near & (t_s >= self.driving.t_s[0]) & (t_s <= last_s))

    def beyond(self, t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Distance since the first known moment outside the positions at moments (k,), metres, and
        its covariance (k, k).
        """
        assert self.process is not None
        start, ends = self.driving.at(self.known_s[:1]), self.driving.at(t_s)
        mean_km, covariance_km2 = self.process.since(float(start[0]), ends)
        return 1e3 * mean_km, 1e6 * covariance_km2

    def _stood_from_s(self) -> float:
        """When the car last had driven."""
        driven_s = self.driving.driven_s
        return float(self.driving.t_s[np.searchsorted(driven_s, driven_s[-1] - 1e-9)])


def trip_curve(
    bounds: list[TripBound], driving: DrivingTime, positions: Positions | None
) -> TripCurve:
    """The curve through the bounds, which may be none."""
    track = positions.track if positions else None
    known_s = [bound.moment.t_s for bound in bounds] + [bound.since.t_s for bound in bounds]
    known_s += [float(track.t_s[0]), float(track.t_s[-1])] if track else []
    if not bounds:
        return TripCurve(driving, None, np.array(known_s), USUAL_PACE_MPS, 0)
    at_s = np.array([bound.moment.t_s for bound in bounds])
    from_s = np.array([bound.since.t_s for bound in bounds])
    low_m = np.array([bound.low_m for bound in bounds])
    high_m = np.array([bound.high_m for bound in bounds])
    shown_m = (low_m + high_m) / 2
    known_m, known_sd_m = np.zeros(at_s.size), np.zeros(at_s.size)
    if positions is not None:
        n = at_s.size
        found = positions.distances(np.concatenate([at_s, from_s]))
        pairs = [found.between(n + k, k) for k in range(n)]
        known_m, known_sd_m = (np.array(part) for part in zip(*pairs, strict=True))
    x, origin_x = driving.at(at_s), driving.at(from_s)
    pace_mps = _pace(bounds, x - origin_x, shown_m - known_m)
    timing_s = np.array([bound.moment.sd_s for bound in bounds])
    noise_m = np.hypot(_speed(track, driving, pace_mps, at_s) * timing_s, known_sd_m)
    process = condition_distance(
        x=x,
        origin_x=origin_x,
        low=(low_m - known_m) / 1e3,
        high=(high_m - known_m) / 1e3,
        noise=noise_m / 1e3,
        shared=np.column_stack(
            [USUAL_RATIO_SD * shown_m, *_starts(bounds, track, driving, pace_mps)]
        )
        / 1e3,
        prior=SpeedPrior(pace_mps / 1e3, _PACE_SHARE_SD, _STRAYS, _STRAY_LOG_SD),
    )
    return TripCurve(driving, process, np.sort(np.array(known_s)), pace_mps, len(bounds))


def _starts(
    bounds: list[TripBound], track: Track | None, driving: DrivingTime, pace_mps: float
) -> list[FloatArray]:
    """What a reset's tap, or a first reading's rounding, makes in all that count from it."""
    columns = []
    for counter in dict.fromkeys(bound.counter for bound in bounds):
        own = np.array([bound.counter == counter for bound in bounds], dtype=float)
        first = next(bound for bound in bounds if bound.counter == counter)
        speed_mps = float(_speed(track, driving, pace_mps, np.array([first.since.t_s]))[0])
        sd_m = speed_mps * first.since.sd_s if first.reset else first.high_m - first.low_m
        columns.append(max(sd_m, 0.1) * own)
    return columns


def _pace(bounds: list[TripBound], driven_s: FloatArray, way_m: FloatArray) -> float:
    """Mean speed over the longest stretch that a counter tells, beyond the positions."""
    longest = int(np.argmax(driven_s))
    if driven_s[longest] < _LEAST_DRIVEN_S:
        return USUAL_PACE_MPS
    return float(np.clip(way_m[longest] / driven_s[longest], *_PACES_MPS))


def _speed(
    track: Track | None, driving: DrivingTime, pace_mps: float, t_s: FloatArray
) -> FloatArray:
    """Speed at moments (k,): by the track where it holds them, else the pace."""
    speed_mps = pace_mps * driving.rate(t_s)
    if track is None:
        return speed_mps
    return np.where(track.covers(t_s), np.nan_to_num(track.speed_at(t_s)), speed_mps)
