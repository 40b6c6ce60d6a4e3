"""Laps from gate to gate, and the check of their length against the survey."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.laps.gates import crossings_s
from ebbline.measure.laps.ruler import LINE_SD_M, Ruler
from ebbline.measure.naming import length
from ebbline.measure.track.covariance import (
    crossing_covariance,
    crossing_sd_m,
    gate_covariance,
    receiver_sd_m,
)
from ebbline.measure.track.distances import Distances
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.result import Finding, LapCheck
from ebbline.records.setup import Course

# Laps spread over the run that serve as its ruler: beyond so many only the survey's uncertainty,
# which all share, is left, and days of laps take no more work than hours.
_MOST_RULED = 200
_WHOLE_LAP = 0.03  # a lap off the usual length by more than this share isn't a plain one
_SURE_LAP = 0.01  # nor is one that a gap makes unsure by more than this share
USUAL_SURVEY_SD_M = 1.0  # when the survey states no uncertainty (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class Laps:
    """Gate crossings (g,), distances there by GNSS alone, and which laps (m,) are plain ones.

    ``distances`` holds their covariance against true laps (``gate_covariance``),
    ``crossing_cov_m2`` (g, g) that of the places of the crossings along the track; ``plain`` holds
    the index of the crossing that starts each lap driven wholly on the course; to the ruler each
    crossing is off by ``ruler_sd_m``.
    """

    gate_s: FloatArray
    distances: Distances
    plain: IntArray
    crossing_cov_m2: FloatArray
    ruler_sd_m: float


@dataclass(frozen=True, slots=True)
class KnownLap:
    """How long one driven lap is, by a survey or by an earlier lap check."""

    length_m: float
    sd_m: float
    surveyed: bool


def find_laps(track: Track, course: Course) -> tuple[Laps | None, list[Finding]]:
    """Cut the track at the gate. None when the course is open or the car never came round."""
    if course.closed is False:
        return None, []
    gate_s = crossings_s(track, course.gate)
    if gate_s.size < 2:
        return None, _no_laps(course)
    distances = Distances(
        gate_s,
        track.along_at(gate_s),
        gate_covariance(track, gate_s),
        track.unseen.apart_m(gate_s),
    )
    length_m = np.diff(distances.along_m)
    known = known_lap(course)
    usual_m = known.length_m if known else float(np.median(length_m))
    share = np.abs(length_m / usual_m - 1)
    in_gaps = np.sqrt(np.mean(np.diff(distances.apart_m, axis=1) ** 2, axis=0)) / usual_m
    plain = np.flatnonzero((share <= _WHOLE_LAP) & (in_gaps <= _SURE_LAP))
    findings = [
        Finding(
            "note",
            "odd_lap",
            f"Lap {k + 1} is {length(length_m[k])} where {length(usual_m)} is usual "
            f"(a way through the pits, a missed crossing or a wide gap); it is left out of the lap "
            f"check.",
            f"laps[{k}]",
        )
        for k in np.flatnonzero((share > _WHOLE_LAP) & (in_gaps <= _SURE_LAP))
    ]
    findings += [
        Finding(
            "note",
            "lap_with_gap",
            f"Lap {k + 1} holds a gap in the positions in which the car may have stood or gone "
            f"another way; it is left out of the lap check.",
            f"laps[{k}]",
        )
        for k in np.flatnonzero(in_gaps > _SURE_LAP)
    ]
    if course.gate is None:
        findings.append(
            Finding(
                "note",
                "gate_found",
                "The course has no start line; laps are counted where the car passed most often.",
                "course.gate",
            )
        )
    crossing_cov_m2 = crossing_covariance(track, gate_s)
    ruler_sd_m = _ruler_sd_m(track, crossing_cov_m2)
    return Laps(gate_s, distances, plain, crossing_cov_m2, ruler_sd_m), findings


def _ruler_sd_m(track: Track, crossing_cov_m2: FloatArray) -> float:
    """How far off each crossing is to the ruler.

    With Doppler speeds as far as the receiver's drift, or as positions were seen to stray: the
    smoothed crossing is surer only by the speeds that the ruler is to check.
    """
    if track.by_positions:
        return crossing_sd_m(track)
    return max(receiver_sd_m(track), math.sqrt(float(crossing_cov_m2[0, 0])))


def _no_laps(course: Course) -> list[Finding]:
    if course.surveyed_lap_m is None:
        return []
    return [
        Finding(
            "doubt",
            "no_laps",
            "The car did not cross the start line twice, so there is no lap to check.",
            "course.gate",
        )
    ]


def check_laps(laps: Laps | None, course: Course) -> LapCheck | None:
    """The mean plain lap by GNSS alone against the surveyed length; None without either.

    They agree when their difference lies within the 95 % interval of their combined uncertainty,
    the survey's and that of the driven line included.
    """
    known = known_lap(course)
    if laps is None or known is None or not known.surveyed or laps.plain.size == 0:
        return None
    mean_m, mean_sd_m = _mean_lap(laps)
    measured = quantity.normal(mean_m, mean_sd_m, floor=0.0)
    ratio = quantity.normal(mean_m / known.length_m, mean_sd_m / known.length_m, floor=0.0)
    if measured is None or ratio is None:
        return None
    return LapCheck(known.length_m, measured, ratio, _agrees(mean_m, mean_sd_m, known))


def known_lap(course: Course) -> KnownLap | None:
    """The surveyed lap, else the one that an earlier lap check measured.

    Its uncertainty is that of 'one driven lap is so long': the stated one and the driven line's.
    """
    if course.surveyed_lap_m is not None:
        stated_m = course.surveyed_lap_sd_m
        stated_m = USUAL_SURVEY_SD_M if stated_m is None else stated_m
        return KnownLap(course.surveyed_lap_m, math.hypot(stated_m, LINE_SD_M), surveyed=True)
    if course.checked_lap is not None:
        checked = course.checked_lap
        return KnownLap(checked.length_m, math.hypot(checked.sd_m, LINE_SD_M), surveyed=False)
    return None


def _agrees(mean_m: float, mean_sd_m: float, known: KnownLap) -> bool:
    reach_m = quantity.COVERAGE_FACTOR * math.hypot(mean_sd_m, known.sd_m)
    return abs(mean_m - known.length_m) <= reach_m


def disagreement(check: LapCheck | None) -> list[Finding]:
    """The finding when GNSS and survey disagree, with the factor on offer."""
    if check is None or check.agrees:
        return []
    off_pct = (check.ratio.value - 1) * 100
    return [
        Finding(
            "doubt",
            "lap_check_disagrees",
            f"A lap measures {length(check.measured_m.value, 1)} by GPS, {off_pct:+.2f} % against "
            f"the surveyed {length(check.surveyed_m, 1)}, more than both uncertainties allow. "
            f"Distances are left as GPS gives them; dividing them by {check.ratio.value:.5f} would "
            f"follow the survey. Check the surveyed length and the start line first.",
            "lap_check",
        )
    ]


def ruler_of(laps: Laps | None, course: Course) -> Ruler | None:
    """The known lap as a ruler, where it can be trusted: where GNSS agrees with it."""
    known = known_lap(course)
    if laps is None or known is None or laps.plain.size == 0:
        return None
    if not _agrees(*_mean_lap(laps), known):
        return None
    some = np.unique(np.linspace(0, laps.plain.size - 1, _MOST_RULED).round().astype(int))
    plain = laps.plain[some]
    gates, lap_of = np.unique(np.column_stack([plain, plain + 1]), return_inverse=True)
    return Ruler(
        gate_s=laps.gate_s[gates],
        lap_of=lap_of.reshape(-1, 2),
        lap_m=known.length_m,
        lap_sd_m=known.sd_m,
        crossing_sd_m=laps.ruler_sd_m,
        source="surveyed" if known.surveyed else "checked",
    )


def _mean_lap(laps: Laps) -> tuple[float, float]:
    """Mean length of the plain laps and its standard deviation.

    Neighbouring laps share a crossing, whose error cancels in their sum.
    """
    weights = np.zeros(laps.gate_s.size)
    np.add.at(weights, laps.plain + 1, 1.0)
    np.add.at(weights, laps.plain, -1.0)
    weights /= laps.plain.size
    variance = weights @ laps.distances.total_covariance() @ weights
    return float(weights @ laps.distances.along_m), math.sqrt(max(float(variance), 0.0))
