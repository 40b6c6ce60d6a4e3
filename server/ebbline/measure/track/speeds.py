"""Speed from the smoothed velocity, freed of two biases: noise adds, smoothing takes.

Both matter only where the receiver shows no speeds. Drift across the way makes a speed too great,
by its variance over 2 v (Ranacher et al. 2016 for whole steps). And the mean of a velocity that is
unsure across its direction is shorter than the mean of its size, by the variance over 2 v: a
motion model fitted to shown speeds straightens corners where they are missing. A model fitted
without any speeds takes drift for driving, so that there the two can't be told apart, and what is
seen at rest is what counts.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.kalman_smoother import Smoothed
from ebbline.measure.track.steps import directions
from ebbline.records.arrays import BoolArray, FloatArray

_MOVING_MPS = 1.0
_TELLING_S = 60.0  # of standing, to tell what drift alone makes of the velocity
_UNSURE_S = 10.0  # without speeds; in less time those before and after hold the velocity


def speeds_mps(
    fixes: Fixes, smoothed: Smoothed, stopped: BoolArray, wander_var: float
) -> FloatArray:
    """Speed (n,) in m/s at the fixes; ``wander_var`` as from ``wander_velocity_var``."""
    speed_mps = np.where(stopped, 0.0, np.hypot(*smoothed.velocity_mps.T))
    unseen = ~np.isfinite(fixes.speed_mps) & (speed_mps**2 > wander_var)
    speed_mps = np.where(
        unseen, speed_mps - wander_var / (2 * np.maximum(speed_mps, _MOVING_MPS)), speed_mps
    )
    if fixes.have_speeds():
        speed_mps = speed_mps + _straightened_mps(fixes, smoothed, speed_mps)
    return speed_mps


def wander_velocity_var(fixes: Fixes, smoothed: Smoothed, stopped: BoolArray) -> float:
    """Variance of the velocity along one axis that the receiver's drift alone makes, m²/s².

    As seen at standstill; 0 where hardly anything rests without a shown speed.
    """
    resting = stopped & ~np.isfinite(fixes.speed_mps)
    if np.count_nonzero(resting) < 2 or _lasting_s(fixes.t_s, resting) < _TELLING_S:
        return 0.0
    return float(np.mean(smoothed.velocity_mps[resting] ** 2))


def share_ahead(smoothed: Smoothed, driven: BoolArray) -> float:
    """How much of the acceleration lies along the way, as variance per that of the motion model;
    by the steps (n-1,) that were ``driven`` between two fixes.

    The model knows one density for all directions, and corners take most of it: a car turns harder
    than it brakes. Only what lies along the way changes the speed.
    """
    changed_mps = np.diff(smoothed.velocity_mps, axis=0)[driven]
    before, after = smoothed.velocity_mps[:-1][driven], smoothed.velocity_mps[1:][driven]
    ahead_mps = np.sum(changed_mps * directions(before + after), axis=1)
    by_step = 1 / smoothed.step_s[driven]
    along_var = float(np.sum(by_step * ahead_mps**2))
    both_var = float(np.sum(by_step[:, None] * changed_mps**2))
    return min(2 * along_var / both_var, 1.0) if both_var > 0 else 1.0


def _lasting_s(t_s: FloatArray, flags: BoolArray) -> float:
    """How long flags (n,) are set in all, by stretches of neighbours."""
    return float(sum(t_s[last] - t_s[first] for first, last in stretches(flags)))


def _straightened_mps(fixes: Fixes, smoothed: Smoothed, speed_mps: FloatArray) -> FloatArray:
    """By how much the speed is too small, (n,) in m/s, by the variance in a stretch's middle."""
    short_mps = np.zeros(speed_mps.size)
    for first, last in stretches(~np.isfinite(fixes.speed_mps) & (speed_mps > _MOVING_MPS)):
        if fixes.t_s[last] - fixes.t_s[first] < _UNSURE_S:
            continue
        middle = np.array([(first + last) // 2])
        velocity_var = float(smoothed.velocity_var(middle)[0][0])
        short_mps[first : last + 1] = velocity_var / (2 * speed_mps[first : last + 1])
    return short_mps
