"""A run as it was driven: events at their moments, distances and energy between any two.

This is what the figures are asked of; it holds no figures itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.energy.curve import EnergyCurve
from ebbline.measure.motion.motion import Motion
from ebbline.measure.time.moments import Events, Moment
from ebbline.measure.track.covariance import speed_sd
from ebbline.measure.track.distances import Distances
from ebbline.measure.track.track import Track
from ebbline.records.result import Quantity

# A car held still is so, and a pack at rest, to within this (common practice, no source).
LEAST_SD_MPS = 0.02
LEAST_SD_KWH = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Events in order of moment; motion and energy are None where there is no evidence."""

    events: Events
    motion: Motion | None
    energy: EnergyCurve | None

    @property
    def track(self) -> Track | None:
        """Where the car was, where positions tell it."""
        return self.motion.track if self.motion else None

    def distances(self, moments: list[Moment]) -> PlacedMoments | None:
        """Distances at k moments together, so that differences keep what they share."""
        if self.motion is None or not self.motion.tells_distance or not moments:
            return None
        motion = self.motion
        at_s = np.array([moment.t_s for moment in moments])
        sd_s = np.array([moment.sd_s for moment in moments])
        spread_m = (
            np.nan_to_num(motion.along_at(at_s + sd_s), nan=0.0)
            - np.nan_to_num(motion.along_at(at_s - sd_s), nan=0.0)
        ) / 2
        inside = motion.covers(at_s + sd_s) & motion.covers(at_s - sd_s)
        at_pace_m = np.nan_to_num(motion.speed_at(at_s)) * sd_s
        timing_m = np.where(inside, spread_m, at_pace_m)
        return PlacedMoments(moments, motion.distances(at_s), [float(m) for m in timing_m])

    def speeds(self, moments: list[Moment]) -> list[Quantity | None]:
        """Speeds at k moments: the smoother's uncertainty and that of the moment."""
        if self.track is None or not moments:
            return [None] * len(moments)
        at_s = np.array([moment.t_s for moment in moments])
        sd_s = np.array([moment.sd_s for moment in moments])
        change = self.track.speed_at(at_s + sd_s) - self.track.speed_at(at_s - sd_s)
        sd = np.hypot(speed_sd(self.track, at_s), np.nan_to_num(change) / 2)
        sd = np.maximum(sd, LEAST_SD_MPS)
        apart = self.track.unseen.speeds_apart_mps(at_s)
        return [
            quantity.spread(float(speed), float(sd_mps), apart[:, k], floor=0.0)
            for k, (speed, sd_mps) in enumerate(zip(self.track.speed_at(at_s), sd, strict=True))
        ]

    def energy_between(self, start: Moment, moments: list[Moment]) -> list[Quantity | None]:
        """Energy from one moment to each of k others."""
        if self.energy is None or not moments:
            return [None] * len(moments)
        mean, sd = self.energy.between(start, moments)
        return [
            quantity.exact(0.0)
            if moment == start and math.isfinite(m)
            else quantity.normal(float(m), math.hypot(float(s), LEAST_SD_KWH))
            for moment, m, s in zip(moments, mean, sd, strict=True)
        ]


@dataclass(frozen=True, slots=True, eq=False)
class PlacedMoments:
    """Moments on the track: their distances and how far their own timing spreads each."""

    moments: list[Moment]
    distances: Distances
    timing_m: list[float]

    def since_start(self, k: int) -> Quantity | None:
        """Distance from the first fix to moment k."""
        return self.distances.since_start(k, self.timing_m[k])

    def between(self, first: int, last: int) -> Quantity | None:
        """Distance from one moment to another; negative when the other came before."""
        if self.moments[first] == self.moments[last]:
            return quantity.exact(0.0)
        timing_m = math.hypot(self.timing_m[first], self.timing_m[last])
        return self.distances.interval(first, last, timing_m)
