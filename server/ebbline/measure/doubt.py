"""How sure the track is: covariance of distance and of speed at given moments.

Distance is, to first order in the direction of travel, a linear functional of the smoothed
states; its covariance follows from the smoother's own matrix (JCGM 100:2008, 5.2 and H.2's
matrix form). What neighbouring moments share is kept, so the doubt of a difference is right.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.smoother import STATES
from ebbline.measure.track import Track, directions, middle_velocity
from ebbline.records import FloatArray, IntArray

# Share by which the whole distance may be off beyond the noise: corners rounded at 1 Hz and
# receivers' own filtering. Seen in simulation (tests/measure), no published source.
SCALE_SD_DOPPLER = 4e-4
SCALE_SD_POSITIONS = 1.5e-3
_BLOCK_VALUES = 8_000_000  # numbers held at once in one block of solutions


def along_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² of the distance since the first fix at moments (k,)."""
    at = np.clip(t_s, track.t_s[0], track.t_s[-1])
    leg = track.leg_at(at)
    share = (at - track.t_s[leg]) / np.diff(track.t_s)[leg]
    start, end = _step_weights(track)
    covariance = np.zeros((at.size, at.size))
    block = max(1, _BLOCK_VALUES // (track.t_s.size * STATES))
    for first in range(0, at.size, block):
        columns = slice(first, first + block)
        for axis in (0, 1):
            weights = _up_to(start[:, :, axis], end[:, :, axis], leg[columns], share[columns])
            solved = track.smoothed.solve(weights)
            per_step = np.einsum("ns,nsk->nk", start[:, :, axis], solved[:-1])
            per_step += np.einsum("ns,nsk->nk", end[:, :, axis], solved[1:])
            so_far = np.cumsum(per_step, axis=0)
            covariance[:, columns] += so_far[leg] - (1 - share)[:, None] * per_step[leg]
    scale_m = scale_sd(track) * np.interp(at, track.t_s, track.along_m)
    symmetric = (covariance + covariance.T) / 2
    return np.asarray(symmetric + np.outer(scale_m, scale_m))


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
    return np.asarray(np.hypot(np.sqrt(np.maximum(variance, 0)), scale_mps))


def _step_weights(track: Track) -> tuple[FloatArray, FloatArray]:
    """Weights of each step's length on the states at its start and end, (n-1, STATES, 2)."""
    step_s = np.diff(track.t_s)[:, None]
    ahead = directions(track.velocity_mps)
    middle = directions(middle_velocity(track.t_s, track.smoothed))
    moving = ~(track.stopped[:-1] & track.stopped[1:])[:, None]
    start = np.zeros((step_s.size, STATES, 2))
    end = np.zeros_like(start)
    start[:, 0] = -middle * moving
    end[:, 0] = middle * moving
    start[:, 1] = step_s / 6 * (ahead[:-1] - middle) * moving
    end[:, 1] = step_s / 6 * (ahead[1:] - middle) * moving
    return start, end


def _up_to(start: FloatArray, end: FloatArray, leg: IntArray, share: FloatArray) -> FloatArray:
    """Functionals 'distance from the first fix to part ``share`` of step ``leg``'."""
    steps = np.arange(start.shape[0])[:, None]
    part = np.where(steps < leg, 1.0, np.where(steps == leg, share, 0.0))
    weights = np.zeros((start.shape[0] + 1, STATES, leg.size))
    weights[:-1] += start[:, :, None] * part[:, None, :]
    weights[1:] += end[:, :, None] * part[:, None, :]
    return weights
