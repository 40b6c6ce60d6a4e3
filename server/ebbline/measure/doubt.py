"""How sure the track is: covariance of distance and of speed at given moments.

Distance is, to first order in the direction of travel, a linear functional of the smoothed
states; its covariance follows from the smoother's own matrix (JCGM 100:2008, 5.2 and H.2's
matrix form). What neighbouring moments share is kept, so the doubt of a difference is right.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.smoother import STATES
from ebbline.measure.track import Track, directions
from ebbline.records import FloatArray, IntArray

# Share by which the whole distance may be off beyond the noise: corners between fixes and
# receivers' own filtering. Seen in simulation (tests/measure), no published source.
SCALE_SD_DOPPLER = 3e-4
SCALE_SD_POSITIONS = 1.5e-3
# What a momentary speed may be off beyond the noise, for accelerations between fixes. Seen in
# simulation, no published source.
MOMENTARY_SD_MPS = 0.08
_BLOCK_VALUES = 8_000_000  # numbers held at once in one block of solutions


def along_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² of the distance since the first fix at moments (k,)."""
    at = np.clip(t_s, track.t_s[0], track.t_s[-1])
    leg = track.leg_at(at)
    share = (at - track.t_s[leg]) / np.diff(track.t_s)[leg]
    half_s = _half_steps_s(track)
    ahead = directions(track.velocity_mps)
    covariance = np.zeros((at.size, at.size))
    block = max(1, _BLOCK_VALUES // (track.t_s.size * STATES))
    for first in range(0, at.size, block):
        columns = slice(first, first + block)
        seconds = _up_to(half_s, leg[columns], share[columns])
        for axis in (0, 1):
            weights = np.zeros((track.t_s.size, STATES, seconds.shape[1]))
            weights[:, 1] = ahead[:, axis, None] * seconds
            speed = ahead[:, axis, None] * track.smoothed.solve(weights)[:, 1]
            per_step = half_s[:, None] * (speed[:-1] + speed[1:])
            so_far = np.cumsum(per_step, axis=0)
            covariance[:, columns] += so_far[leg] - (1 - share)[:, None] * per_step[leg]
    scale_m = scale_sd(track) * np.interp(at, track.t_s, track.along_m)
    bridged_m2 = np.interp(at, track.t_s, np.concatenate([[0], np.cumsum(track.bridged_m2)]))
    shared_m2 = np.minimum(bridged_m2[:, None], bridged_m2[None, :])
    return np.asarray((covariance + covariance.T) / 2 + np.outer(scale_m, scale_m) + shared_m2)


def scale_sd(track: Track) -> float:
    """Share by which distance and speed may be off as a whole, 1-sigma."""
    return SCALE_SD_DOPPLER if track.uses_doppler else SCALE_SD_POSITIONS


def speed_sd(track: Track, t_s: FloatArray) -> FloatArray:
    """Standard deviation (k,) in m/s of the speed at the fixes nearest to moments (k,)."""
    at = np.clip(t_s, track.t_s[0], track.t_s[-1])
    leg = track.leg_at(at)
    fix = np.where(at - track.t_s[leg] < track.t_s[leg + 1] - at, leg, leg + 1)
    ahead = directions(track.velocity_mps)
    variance = np.zeros(at.size)
    block = max(1, _BLOCK_VALUES // (track.t_s.size * STATES))
    for first in range(0, at.size, block):
        chosen = fix[first : first + block]
        column = np.arange(chosen.size)
        for axis in (0, 1):
            weights = np.zeros((track.t_s.size, STATES, chosen.size))
            weights[chosen, 1, column] = ahead[chosen, axis]
            solved = track.smoothed.solve(weights)
            variance[first : first + block] += ahead[chosen, axis] * solved[chosen, 1, column]
    scale_mps = scale_sd(track) * track.speed_mps[fix]
    beyond_mps = np.where(track.stopped[fix], 0.0, np.hypot(scale_mps, MOMENTARY_SD_MPS))
    return np.asarray(np.hypot(np.sqrt(np.maximum(variance, 0)), beyond_mps))


def _half_steps_s(track: Track) -> FloatArray:
    """What each step's length gains per m/s at either of its ends, (n-1,); nothing in a gap."""
    driven = ~(track.stopped[:-1] & track.stopped[1:]) & ~track.gap
    return np.asarray(np.diff(track.t_s) * driven / 2)


def _up_to(half_s: FloatArray, leg: IntArray, share: FloatArray) -> FloatArray:
    """Weights (n, k) of each fix's speed on 'distance to part ``share`` of step ``leg``'."""
    steps = np.arange(half_s.size)[:, None]
    part = np.where(steps < leg, 1.0, np.where(steps == leg, share, 0.0)) * half_s[:, None]
    weights = np.zeros((half_s.size + 1, leg.size))
    weights[:-1] += part
    weights[1:] += part
    return weights
