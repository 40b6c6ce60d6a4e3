"""Distances at chosen moments with their covariance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.track.covariance import along_covariance
from ebbline.measure.track.track import Track
from ebbline.records import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Distances:
    """Distance since the first fix at moments (k,), with covariance (k, k)."""

    t_s: FloatArray
    along_m: FloatArray
    covariance: FloatArray

    def between(self, first: int, last: int) -> tuple[float, float]:
        """Distance from one of the moments to another, and its standard deviation."""
        sd_m = sd_of_difference(self.covariance, first, last)
        return float(self.along_m[last] - self.along_m[first]), sd_m


def gnss_distances(track: Track, t_s: FloatArray) -> Distances:
    """Distances at moments (k,) by the track alone; NaN where it can't place one."""
    return Distances(t_s, track.along_at(t_s), along_covariance(track, t_s))


def sd_of_difference(covariance: FloatArray, first: int, last: int) -> float:
    """Standard deviation of the difference of two figures by their covariance (k, k)."""
    variance = covariance[first, first] + covariance[last, last] - 2 * covariance[first, last]
    return float(np.sqrt(max(variance, 0.0)))
