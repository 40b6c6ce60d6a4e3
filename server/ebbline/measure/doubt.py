"""How sure the track is: covariance of distance and of speed at given moments.

Distance is, to first order in the direction of travel, a linear functional of the smoothed
states, so its covariance follows from the smoother's own matrix (JCGM 100:2008, 5.2). Errors of
speed are forgotten within seconds, so distance errors add up like a random walk: what two moments
share is the variance up to the earlier one, and one solve with 'the whole distance' gives that
variance at every fix. tests/measure holds this against the full covariance.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.track import Track
from ebbline.records import FloatArray

# Share by which the whole distance may be off beyond the noise: corners between fixes and
# receivers' own filtering. Seen in simulation (tests/measure), no published source.
SCALE_SD_DOPPLER = 3e-4
SCALE_SD_POSITIONS = 1.5e-3
CROSSING_SD_M = 0.9  # of each crossing alone: the white part of positions, steps between fixes
# What a momentary speed may be off beyond the noise, for accelerations between fixes. Seen in
# simulation, no published source.
MOMENTARY_SD_MPS = 0.08


def along_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² of the distance since the first fix at moments (k,)."""
    at = np.clip(t_s, track.t_s[0], track.t_s[-1])
    variance_m2 = np.interp(at, track.t_s, track.along_m2)
    scale_m = scale_sd(track) * np.interp(at, track.t_s, track.along_m)
    return np.asarray(
        np.minimum(variance_m2[:, None], variance_m2[None, :]) + np.outer(scale_m, scale_m)
    )


def crossing_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² of the position along the track at moments (k,).

    Distance by Doppler speeds is a random walk of rate r against the positions, whose drift acts
    like white noise of density S = 2 drift² time constant. Smoothing one by the other leaves
    sqrt(S r) / 2, forgotten over sqrt(S / r) (the stationary Wiener smoother; from memory):
    crossings soon after one another share it, and it cancels between them. Without Doppler speeds
    the receiver's whole error holds at each crossing.
    """
    drift_m = receiver_sd_m(track)
    if not track.uses_doppler:
        return np.asarray(drift_m**2 * np.eye(t_s.size))
    rate = float(track.along_m2[-1]) / float(track.t_s[-1] - track.t_s[0])
    density = 2 * drift_m**2 * track.model.drift_s
    variance_m2 = min(float(np.sqrt(density * rate)) / 2, drift_m**2)
    forgotten_s = max(float(np.sqrt(density / max(rate, 1e-9))), track.model.drift_s)
    apart_s = np.abs(t_s[:, None] - t_s[None, :])
    shared_m2 = variance_m2 * np.exp(-apart_s / forgotten_s)
    return np.asarray(shared_m2 + CROSSING_SD_M**2 * np.eye(t_s.size))


def receiver_sd_m(track: Track) -> float:
    """The receiver's slow position error, 1-sigma along one axis.

    As fitted; without Doppler speeds the fit can't tell drift from driving, so that there it is no
    less than the receiver's own claim.
    """
    drift_m = track.model.drift_m
    return drift_m if track.uses_doppler else max(track.claimed_m, drift_m)


def scale_sd(track: Track) -> float:
    """Share by which distance and speed may be off as a whole, 1-sigma."""
    return SCALE_SD_DOPPLER if track.uses_doppler else SCALE_SD_POSITIONS


def speed_sd(track: Track, t_s: FloatArray) -> FloatArray:
    """Standard deviation (k,) in m/s of the speed at moments (k,).

    Between two fixes it is that of the nearer one; inside a gap the speed may have gone anywhere
    that the rest of the drive went, most so in its middle.
    """
    at = np.clip(t_s, track.t_s[0], track.t_s[-1])
    leg = track.leg_at(at)
    share = (at - track.t_s[leg]) / np.diff(track.t_s)[leg]
    fix = np.where(share < 0.5, leg, leg + 1)
    beyond_mps = np.hypot(scale_sd(track) * track.speed_mps[fix], MOMENTARY_SD_MPS)
    own_mps = np.hypot(track.smoothed.velocity_sd(fix), beyond_mps)
    in_gap = track.gap[leg] & ~(track.stopped[leg] & track.stopped[leg + 1])
    moving_mps = track.speed_mps[~track.stopped]
    usual_mps = float(np.std(moving_mps)) if moving_mps.size else 0.0
    unseen_mps = in_gap * usual_mps * np.sqrt(4 * share * (1 - share))
    return np.asarray(np.where(track.stopped[fix] & ~in_gap, 0.0, np.hypot(own_mps, unseen_mps)))
