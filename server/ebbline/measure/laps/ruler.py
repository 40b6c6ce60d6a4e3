"""Distances at chosen moments, with the lap of known length as a ruler.

On a closed course 'from gate to gate it is one lap' is a second opinion on the scale of the
smoothed distance, within the uncertainties of the survey, of the driven line and of each crossing
(linear Gaussian update: least squares with observations added). With Doppler speeds it corrects the
scale alone: position and speed were smoothed together, so the random part of a lap is the same
error that placed its crossings, and the survey can't tell the two apart. Without them distance and
crossings are misplaced together, and the survey corrects the path's shape, scale and noise. Where
GNSS and survey disagree the ruler is not used: ``laps`` says so and the user decides. Gaps are
uncertainties of the laps they lie in; no lap says what happened in one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.track.covariance import along_covariance, scale_sd, shape_covariance
from ebbline.measure.track.distances import Distances, beyond_covariance, gnss_distances
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray, IntArray

# How far the driven line lies beside the surveyed one, as an offset all round: 0.25 m makes
# 2 pi times as much in a lap (common practice, no source).
LINE_SD_M = 2 * np.pi * 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Ruler:
    """Gate crossings (g,) in pairs of one lap each: ``lap_of`` (m, 2) indexes ``gate_s``.

    ``crossing_sd_m`` is how far off each crossing was placed; ``source`` says how the lap's
    length is known.
    """

    gate_s: FloatArray
    lap_of: IntArray
    lap_m: float
    lap_sd_m: float
    crossing_sd_m: float
    source: str = "surveyed"


def distances_at(track: Track, t_s: FloatArray, ruler: Ruler | None) -> Distances:
    """Distances at moments (k,); NaN where the track can't place one."""
    if ruler is None:
        return gnss_distances(track, t_s)
    joint_s = np.concatenate([t_s, ruler.gate_s])
    along_m = track.along_at(joint_s)
    covariance = along_covariance(track, joint_s) + beyond_covariance(track, joint_s)
    apart_m = track.unseen.apart_m(joint_s)
    gates = ruler.gate_s.size
    laps = ruler.lap_of.shape[0]
    difference = np.zeros((laps, gates))
    difference[np.arange(laps), ruler.lap_of[:, 0]] = -1
    difference[np.arange(laps), ruler.lap_of[:, 1]] = 1
    observe = np.hstack([np.zeros((laps, t_s.size)), difference])
    seen_cov_m2, correctable_cov_m2 = _told_by_laps(track, joint_s, along_m)
    told = observe @ correctable_cov_m2
    noise_var = ruler.lap_sd_m**2 * np.ones((laps, laps))
    noise_var += ruler.crossing_sd_m**2 * difference @ difference.T
    in_gaps_m = difference @ apart_m[:, t_s.size :].T
    noise_var += in_gaps_m @ in_gaps_m.T / apart_m.shape[0]
    gain = np.linalg.solve(observe @ seen_cov_m2 @ observe.T + noise_var, told).T
    surprise = ruler.lap_m - difference @ along_m[t_s.size :]
    along_m = along_m + gain @ surprise
    covariance = covariance - gain @ told
    k = t_s.size
    symmetric = (covariance[:k, :k] + covariance[:k, :k].T) / 2
    return Distances(t_s, along_m[:k], symmetric, apart_m[:, :k])


def _told_by_laps(
    track: Track, t_s: FloatArray, along_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The part of the distances' covariance that shows in laps, and what they can correct of it."""
    shape_cov_m2 = shape_covariance(track, t_s)
    if track.by_positions:
        return shape_cov_m2, shape_cov_m2
    # a moment that the track can't place must not make the others unknown, too
    scale_m = scale_sd(track) * np.nan_to_num(along_m)
    return shape_cov_m2, np.outer(scale_m, scale_m)
