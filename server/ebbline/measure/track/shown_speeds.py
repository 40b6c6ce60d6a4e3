"""Whether a receiver's shown speeds agree with its positions.

A receiver's own Doppler speeds are right to a hundredth of a per cent; a phone may instead show
speeds that it fused from other sensors, a few per cent off and late. Positions are metres off but
don't add up, so over minutes of driving they tell the two apart: the way that the speeds make of
each stretch, projected on its chord, is held against the chord. Speeds that fail are not used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import fdtri, stdtrit

from ebbline.measure.geodesy import LocalPlane
from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.measure.track.fixes import Fixes
from ebbline.records.arrays import FloatArray
from ebbline.records.result import Finding

_STRETCH_S = 10.0
# Before and after, over which the direction of travel is taken: the way must be long beside the
# noise of a position, or it bends the direction and shortens the projection.
_HEADING_S, _HEADING_M = 2.0, 24.0
_LEAST_M = 40.0  # of a stretch: beside it a receiver's error over seconds is small
_STRAIGHT_RAD = 0.8  # of turning in a stretch: in tighter bends the direction is too blurred
_BLOCK = 8  # stretches: a minute and a half or more, over which a receiver's error is its own
_FEWEST = 5  # blocks' worth of stretches that can tell anything
_MOST_STEP_S = 2.5  # sparser fixes don't show the direction of travel between them
_BY_CHANCE = 0.01  # of good receivers may fail either test
_FAR_OFF = 4.0  # standard deviations: a stretch that ends at an outlier
_LEAST_SHARE = 0.002  # a smaller disagreement is corners cut between fixes, not the speeds
_LEAST_VAR_M2 = 0.01  # of a stretch: no positions are better
_LOCAL_SHARE = 0.012  # how much a true ratio may wander from block to block


@dataclass(frozen=True, slots=True)
class SpeedRatio:
    """Shown speeds against positions: the whole's ratio, and its spread among blocks.

    ``wander``: the variance of a block's way by speeds less its way by positions, over what it
    would be if its stretches were independent. The errors of positions don't add up, so with good
    speeds it is about 1 or less; a share by which speeds are off for minutes does.
    """

    ratio: float
    local_sd: float
    blocks: int
    wander: float

    @property
    def sd(self) -> float:
        """Standard deviation of the ratio."""
        return self.local_sd / math.sqrt(self.blocks)

    @property
    def agrees(self) -> bool:
        """Whether the speeds can be believed as they are: by Student's t for the whole, Fisher's F
        for the wandering.
        """
        free = self.blocks - 1
        telling = float(stdtrit(free, 1 - _BY_CHANCE / 2))
        most_wander = float(fdtri(free, self.blocks * (_BLOCK - 1), 1 - _BY_CHANCE))
        return (
            abs(self.ratio - 1) <= max(telling * self.sd, _LEAST_SHARE)
            and self.local_sd <= _LOCAL_SHARE
            and self.wander <= most_wander
        )


def believable(fixes: Fixes) -> tuple[Fixes, list[Finding]]:
    """The fixes (n,), without their speeds where those contradict the positions."""
    found = speed_ratio(fixes)
    if found is None or found.agrees:
        return fixes, []
    unknown = np.full(fixes.t_s.size, np.nan)
    off_pct = 100 * max(abs(found.ratio - 1), found.local_sd)
    return replace(fixes, speed_mps=unknown, heading_deg=unknown), [
        Finding(
            "doubt",
            "speeds_disagree",
            f"The speeds that {fixes.device} showed differ from its positions by about "
            f"{off_pct:.1f} %, as speeds do that a phone makes from other sensors. Distances come "
            f"from the positions alone; their intervals are wider for it.",
            f"breadcrumbs of {fixes.device}",
        )
    ]


def speed_ratio(fixes: Fixes) -> SpeedRatio | None:
    """The way by shown speeds per way by positions; None where too little was driven to tell.

    Stretches of ten seconds; the ratio is that of the sums, its spread that of blocks of stretches,
    so that what a receiver's error shares within minutes counts once.
    """
    if fixes.t_s.size < 60 or not fixes.have_speeds():
        return None
    if float(np.median(np.diff(fixes.t_s))) > _MOST_STEP_S:
        return None
    chord_m, driven_m = _without_outliers(*_stretches(fixes))
    blocks = chord_m.size // _BLOCK
    if blocks < _FEWEST:
        return None
    chord_m, driven_m = (
        way_m[: blocks * _BLOCK].reshape(blocks, _BLOCK) for way_m in (chord_m, driven_m)
    )
    ratio = float(np.sum(driven_m) / np.sum(chord_m))
    off_m = driven_m - ratio * chord_m
    off_by_block_m = np.sum(off_m, axis=1)
    local = off_by_block_m / np.sum(chord_m, axis=1)
    between_m2 = float(np.sum(off_by_block_m**2)) / (_BLOCK * (blocks - 1))
    within_m2 = float(np.mean(np.var(off_m, axis=1, ddof=1)))
    wander = between_m2 / max(within_m2, _LEAST_VAR_M2)
    return SpeedRatio(ratio, float(np.sqrt(np.mean(local**2))), blocks, wander)


def _without_outliers(chord_m: FloatArray, driven_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stretches (k,) less those spoilt by a position that is far off."""
    if chord_m.size == 0:
        return chord_m, driven_m
    off_m = driven_m - chord_m * float(np.median(driven_m / chord_m))
    usual = np.abs(off_m) <= _FAR_OFF * MAD_TO_SIGMA * float(np.median(np.abs(off_m))) + 1.0
    return chord_m[usual], driven_m[usual]


def _stretches(fixes: Fixes) -> tuple[FloatArray, FloatArray]:
    """Chord, and way by shown speeds projected on it, of stretches (k,) in order, metres."""
    plane = LocalPlane(float(fixes.lat[0]), float(fixes.lon[0]))
    position_m = np.column_stack(plane.forward(fixes.lat, fixes.lon))
    t_s = fixes.t_s
    from_s = _starts_s(t_s)
    to_s = from_s + _STRETCH_S
    half_s = max(_HEADING_S, _HEADING_M / max(_usual_mps(fixes), 1.0))
    ahead_m = [
        np.interp(t_s + half_s, t_s, axis) - np.interp(t_s - half_s, t_s, axis)
        for axis in position_m.T
    ]
    heading = np.unwrap(np.arctan2(*ahead_m))
    turned = np.abs(_change(from_s, to_s, t_s, heading))
    along_mps = np.column_stack(
        [fixes.speed_mps * np.sin(heading), fixes.speed_mps * np.cos(heading)]
    )
    half_m = np.diff(t_s)[:, None] * (along_mps[1:] + along_mps[:-1]) / 2
    way_m = np.concatenate([np.zeros((1, 2)), np.cumsum(np.nan_to_num(half_m), axis=0)])
    step_m, step_by_speed = (
        np.column_stack([_change(from_s, to_s, t_s, axis) for axis in way.T])
        for way in (position_m, way_m)
    )
    chord_m = np.hypot(*step_m.T)
    seen = _seen_throughout(fixes, from_s, to_s)
    whole = seen & (chord_m > _LEAST_M) & (turned < _STRAIGHT_RAD)
    ahead = step_m[whole] / chord_m[whole, None]
    return chord_m[whole], np.asarray(np.sum(step_by_speed[whole] * ahead, axis=1))


def _starts_s(t_s: FloatArray) -> FloatArray:
    """Where stretches (k,) begin that hold a position; years between two make none."""
    last = np.ceil((t_s[-1] - t_s[0]) / _STRETCH_S) - 2
    held = np.unique(np.floor((t_s - t_s[0]) / _STRETCH_S))
    return np.asarray(t_s[0] + _STRETCH_S * held[held <= last])


def _change(from_s: FloatArray, to_s: FloatArray, t_s: FloatArray, y: FloatArray) -> FloatArray:
    """By how much a curve grows over stretches (k,)."""
    return np.asarray(np.interp(to_s, t_s, y) - np.interp(from_s, t_s, y))


def _seen_throughout(fixes: Fixes, from_s: FloatArray, to_s: FloatArray) -> np.ndarray:
    """Which stretches (k,) have a position and a speed all along."""
    known = np.isfinite(fixes.speed_mps)
    missing = ~(known[1:] & known[:-1]) | (np.diff(fixes.t_s) > 2 * _MOST_STEP_S)
    missing_s = np.concatenate([[0.0], np.cumsum(np.diff(fixes.t_s) * missing)])
    return np.asarray(_change(from_s, to_s, fixes.t_s, missing_s) < 0.5)


def _usual_mps(fixes: Fixes) -> float:
    """The median speed shown while moving; 0 where the car never moved."""
    moving_mps = fixes.speed_mps[np.nan_to_num(fixes.speed_mps) > 1.0]
    return float(np.median(moving_mps)) if moving_mps.size else 0.0
