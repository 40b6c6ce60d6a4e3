"""Distances at chosen moments, with all that is known of their errors together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.track.covariance import along_covariance
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray
from ebbline.records.result import Quantity

# A car that stood where its track ends may have crept on: at once, and the longer the more (common
# practice, no source).
_BEYOND_SD_M, _BEYOND_SD_MPS = 0.5, 0.02
# Between two moments even a parked car isn't known to the millimetre: it rocks, and its antenna has
# a size (common practice, no source).
_LEAST_SD_M = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Distances:
    """Distance since the first fix at moments (k,): ``covariance`` (k, k) of its normal errors;
    ``apart_m`` (n, k) what it would be more if the gaps were driven in n ways, as likely as each
    other.
    """

    t_s: FloatArray
    along_m: FloatArray
    covariance: FloatArray
    apart_m: FloatArray

    def total_covariance(self) -> FloatArray:
        """Covariance (k, k) of all errors, for what takes them as normal."""
        return np.asarray(self.covariance + self.apart_m.T @ self.apart_m / self.apart_m.shape[0])

    def between(self, first: int, last: int) -> tuple[float, float]:
        """Distance from one of the moments to another, and the standard deviation of all errors."""
        apart_m = self.apart_m[:, last] - self.apart_m[:, first]
        sd_m = np.hypot(
            sd_of_difference(self.covariance, first, last), np.sqrt(np.mean(apart_m**2))
        )
        return float(self.along_m[last] - self.along_m[first]), float(sd_m)

    def interval(self, first: int, last: int, more_sd_m: float = 0.0) -> Quantity | None:
        """Distance from one of the moments to another, with what else it is unsure by."""
        sd_m = np.hypot(sd_of_difference(self.covariance, first, last), more_sd_m)
        return quantity.spread(
            float(self.along_m[last] - self.along_m[first]),
            float(np.hypot(sd_m, _LEAST_SD_M)),
            self.apart_m[:, last] - self.apart_m[:, first],
        )

    def since_start(self, k: int, more_sd_m: float = 0.0) -> Quantity | None:
        """Distance from the first fix to one of the moments, with what else it is unsure by."""
        sd_m = np.hypot(np.sqrt(self.covariance[k, k]), more_sd_m)
        return quantity.spread(
            float(self.along_m[k]),
            float(np.hypot(sd_m, _LEAST_SD_M)),
            self.apart_m[:, k],
            floor=0.0,
        )


def gnss_distances(track: Track, t_s: FloatArray) -> Distances:
    """Distances at moments (k,) by the track alone; NaN where it can't place one."""
    covariance = along_covariance(track, t_s) + beyond_covariance(track, t_s)
    return Distances(t_s, track.along_at(t_s), covariance, track.unseen.apart_m(t_s))


def beyond_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² for moments beyond the ends of the track, where it stood."""
    covariance = np.zeros((t_s.size, t_s.size))
    for beyond_s in (track.t_s[0] - t_s, t_s - track.t_s[-1]):
        var_m2 = np.where(beyond_s > 0, _BEYOND_SD_M**2 + (_BEYOND_SD_MPS * beyond_s) ** 2, 0.0)
        covariance += np.minimum(var_m2[:, None], var_m2[None, :])
    return covariance


def sd_of_difference(covariance: FloatArray, first: int, last: int) -> float:
    """Standard deviation of the difference of two figures by their covariance (k, k)."""
    variance = covariance[first, first] + covariance[last, last] - 2 * covariance[first, last]
    return float(np.sqrt(max(variance, 0.0)))
