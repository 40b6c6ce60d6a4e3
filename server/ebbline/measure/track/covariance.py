"""How sure the track is: covariance of distance and of speed at given moments.

Distance is, to first order in the direction of travel, a linear functional of the smoothed
states, so its covariance follows from the smoother's own matrix (JCGM 100:2008, 5.2). Errors of
speed are forgotten within seconds, so distance errors add up like a random walk: what two moments
share is the variance up to the earlier one, and one solve with 'the whole distance' gives that
variance at every fix. tests/measure holds this against the full covariance.

Without Doppler speeds the track follows the receiver's drift b. Along a path with the direction u
the distance is then off by the integral of u db, which is by parts the change of u b, misplacing
each moment by the drift at that moment, less the integral of b du: a drift that changes between
the corners of a lap changes its length, and that adds up.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import solve_banded

from ebbline.measure.numerics.ticks import ticks
from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.measure.track.kalman_smoother import MotionModel
from ebbline.measure.track.receiver_noise import USUAL_DRIFT_S
from ebbline.measure.track.steps import directions
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray

# Share by which the whole distance may be off beyond the noise: corners between fixes and
# receivers' own filtering. Seen in simulation (tests/coverage_study), no published source.
SCALE_SD_DOPPLER = 1.2e-4
# Noise lengthens a path by its square (Ranacher et al. 2016); per m² of the receiver's variance.
SCALE_SD_PER_M2 = 6e-5
# Corners cut within long steps, as a share of the way in them and per s² of the step. Seen in
# simulation, no published source.
CUT_SHARE_PER_S2 = 2.2e-5
# What is lost or won where a car slows to a rest or leaves one; without shown speeds its last
# metres are slower than drift. Seen in simulation, no published source.
HALT_SD_DOPPLER_M = 1.0
HALT_SD_POSITIONS_M = 3.0
# Of the drift at a gate, without shown speeds. Seen in simulation, no published source.
SMOOTHED_SHARE = 0.75
_GRID_S = 1.0
_FORGOTTEN = 20  # time constants
_MOVING_MPS = 1.0
_STRAYED_STEP_S = 10.0
# Of each crossing alone: the white part of positions and the step between fixes, at 1 Hz. Seen in
# simulation, no published source.
_CROSSING_SD_M = 0.9
# What a momentary speed may be off beyond the noise, for accelerations between fixes. Seen in
# simulation, no published source.
MOMENTARY_SD_MPS = 0.08


def along_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² of the distance since the first fix at moments (k,)."""
    shape_cov_m2 = shape_covariance(track, t_s)
    if not track.by_positions:
        return shape_cov_m2
    since_s = np.clip(t_s, track.t_s[0], track.t_s[-1]) - track.t_s[0]
    apart_s = np.abs(since_s[:, None] - since_s[None, :])
    kept = np.exp(-since_s / USUAL_DRIFT_S)
    misplaced = np.exp(-apart_s / USUAL_DRIFT_S) - kept[:, None] - kept[None, :] + 1
    return np.asarray(shape_cov_m2 + receiver_sd_m(track) ** 2 * misplaced)


def shape_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """The part (k, k) in m² of the distance's covariance that adds up along the way."""
    at = np.clip(t_s, track.t_s[0], track.t_s[-1])
    var_m2 = np.interp(at, track.t_s, track.along_var_m2)
    if track.by_positions:
        var_m2 = np.maximum(var_m2, _turning_var_m2(track, at))
    var_m2 = var_m2 + _halting_var_m2(track, at) + _cornering_var_m2(track, at)
    scale_m = scale_sd(track) * np.interp(at, track.t_s, track.along_m)
    return np.asarray(np.minimum(var_m2[:, None], var_m2[None, :]) + np.outer(scale_m, scale_m))


def _turning_var_m2(track: Track, t_s: FloatArray) -> FloatArray:
    """Variance (k,) in m² at moments (k,) of the integral of b du, the drift over the turning.

    With b of variance s² forgotten over T, the covariance K of b with the integral follows
    dK = -K dt/T + s² du, and the variance grows by 2 K du + s² du².
    """
    # after so long nothing of the drift is left: what comes later in a longer step adds nothing
    needless_s = np.maximum(np.diff(track.t_s) - _FORGOTTEN * USUAL_DRIFT_S, 0.0)
    skipped_s = np.concatenate([[0.0], np.cumsum(needless_s)])
    track_s = track.t_s - skipped_s
    grid_s = np.arange(track_s[0], track_s[-1] + _GRID_S, _GRID_S)
    moving = track.speed_mps > _MOVING_MPS
    if not np.any(moving):
        return np.zeros(t_s.size)
    heading = directions(track.velocity_mps[moving])
    ahead = np.column_stack([np.interp(grid_s, track_s[moving], axis) for axis in heading.T])
    turned = np.diff(ahead, axis=0, prepend=ahead[:1])
    kept = np.exp(-_GRID_S / USUAL_DRIFT_S)
    # each step keeps a part of what the last held and of what came since: two diagonals
    diagonals = np.vstack([np.ones(grid_s.size), np.full(grid_s.size, -kept)])
    came = np.vstack([np.zeros(2), kept * turned[:-1]])
    with_drift = solve_banded((1, 0), diagonals, came)
    grown = np.sum(2 * with_drift * turned + turned**2, axis=1)
    summed = np.maximum.accumulate(np.cumsum(grown))
    at_s = t_s - np.interp(t_s, track.t_s, skipped_s)
    return np.asarray(receiver_sd_m(track) ** 2 * np.interp(at_s, grid_s, summed))


def _halting_var_m2(track: Track, t_s: FloatArray) -> FloatArray:
    """Variance (k,) in m² at moments (k,) of halts and starts so far."""
    changes = np.diff(track.stopped.astype(float), prepend=float(track.stopped[0]))
    halt_m = HALT_SD_POSITIONS_M if track.by_positions else HALT_SD_DOPPLER_M
    return np.asarray(halt_m**2 * np.interp(t_s, track.t_s, np.cumsum(np.abs(changes))))


def _cornering_var_m2(track: Track, t_s: FloatArray) -> FloatArray:
    """Variance (k,) in m² at moments (k,) of how turns were spread over long steps so far.

    A turn by a over the share f of a way is longer than its chord by a² (1/8 - f/12), to second
    order (plane geometry). f isn't seen, and another one each time: even between 0 and 1.
    """
    ahead = directions(track.velocity_mps)
    turned = np.arccos(np.clip(np.sum(ahead[1:] * ahead[:-1], axis=1), -1.0, 1.0))
    moving = ~(track.stopped[1:] | track.stopped[:-1])
    unsure_m = track.long * ~track.gap * moving * np.diff(track.along_m) * turned**2 / 12
    summed_m2 = np.concatenate([[0.0], np.cumsum(unsure_m**2 / 12)])
    return np.asarray(np.interp(t_s, track.t_s, summed_m2))


def gate_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² of distances at gate crossings (k,), against true laps.

    A crossing is found by positions. With Doppler speeds, distance knows nothing of their drift, so
    the misplaced crossing comes on top. Without, distance and crossing are misplaced together, and
    from gate to gate only the path's shape counts, and what the smoother takes out of the drift at
    the crossings but not out of the distance.
    """
    if not track.by_positions:
        return along_covariance(track, t_s) + crossing_covariance(track, t_s)
    own_var_m2 = crossing_sd_m(track) ** 2 + (SMOOTHED_SHARE * receiver_sd_m(track)) ** 2
    return np.asarray(shape_covariance(track, t_s) + own_var_m2 * np.eye(t_s.size))


def crossing_covariance(track: Track, t_s: FloatArray) -> FloatArray:
    """Covariance (k, k) in m² of the position along the track at moments (k,).

    Distance by Doppler speeds is a random walk of rate r against the positions, whose drift acts
    like white noise of density S = 2 drift² time constant. Smoothing one by the other leaves
    sqrt(S r) / 2, forgotten over sqrt(S / r) (the stationary Wiener smoother; from memory):
    crossings soon after one another share it, and it cancels between them. What positions were
    seen to stray from the way by speeds beyond that, from one crossing to the next, comes on top:
    of a filtered error, smooth from second to second, the fit sees little. Without Doppler speeds
    the receiver's whole error holds at each crossing.
    """
    drift_m = receiver_sd_m(track)
    if track.by_positions:
        return np.asarray(drift_m**2 * np.eye(t_s.size))
    rate = float(track.along_var_m2[-1]) / float(track.t_s[-1] - track.t_s[0])
    density = 2 * drift_m**2 * track.model.drift_s
    var_m2 = min(float(np.sqrt(density * rate)) / 2, drift_m**2)
    forgotten_s = max(float(np.sqrt(density / max(rate, 1e-9))), track.model.drift_s)
    apart_s = np.abs(t_s[:, None] - t_s[None, :])
    shared_cov_m2 = var_m2 * np.exp(-apart_s / forgotten_s)
    own_var_m2 = crossing_sd_m(track) ** 2
    if t_s.size > 1:
        lap_s = float(np.median(np.diff(t_s)))
        told_m2 = var_m2 * -np.expm1(-lap_s / forgotten_s)
        own_var_m2 += max(_strayed_var_m2(track, lap_s) / 2 - told_m2, 0.0)
    return np.asarray(shared_cov_m2 + own_var_m2 * np.eye(t_s.size))


def _strayed_var_m2(track: Track, lasting_s: float) -> float:
    """Variance along one axis of how far positions stray from the way by speeds in so long.

    By the median, which gaps and outliers don't move; 0 where the car never drove so long.
    """
    ahead = directions(track.velocity_mps)
    steps_m = np.diff(track.along_m)[:, None] * (ahead[1:] + ahead[:-1]) / 2
    off_m = track.position_m - np.concatenate([np.zeros((1, 2)), np.cumsum(steps_m, axis=0)])
    moving_s = track.t_s[~track.stopped]
    if moving_s.size == 0 or moving_s[-1] - moving_s[0] < 2 * lasting_s:
        return 0.0
    seen_s = track.t_s[(track.t_s >= moving_s[0]) & (track.t_s < moving_s[-1] - lasting_s)]
    from_s = ticks(seen_s, float(moving_s[0]), _STRAYED_STEP_S)
    strayed_m = [
        np.interp(from_s + lasting_s, track.t_s, axis) - np.interp(from_s, track.t_s, axis)
        for axis in off_m.T
    ]
    return float((MAD_TO_SIGMA * np.median(np.abs(strayed_m))) ** 2)


def crossing_sd_m(track: Track) -> float:
    """How far off each crossing is by itself, 1-sigma; less where fixes come closer together."""
    step_s = float(np.median(np.diff(track.t_s)))
    return _CROSSING_SD_M * float(np.sqrt(np.clip(step_s, 0.25, 1.0)))


def receiver_sd_m(track: Track) -> float:
    """The receiver's slow position error, 1-sigma along one axis.

    As fitted; without Doppler speeds the fit can't tell drift from driving, so that there it is no
    less than the receiver's own claim.
    """
    drift_m = track.model.drift_m
    return max(track.claimed_m, drift_m) if track.by_positions else drift_m


def scale_sd(track: Track) -> float:
    """Share by which distance and speed may be off as a whole, 1-sigma."""
    known_sd = float(np.hypot(SCALE_SD_DOPPLER, _cut_share(track)))
    if not track.by_positions:
        return known_sd
    return float(np.hypot(known_sd, SCALE_SD_PER_M2 * receiver_sd_m(track) ** 2))


def _cut_share(track: Track) -> float:
    """Share of the whole way that corners within long steps may have cut off."""
    before = np.flatnonzero(track.long & ~track.gap)
    step_s, way_m = (each[before + 1] - each[before] for each in (track.t_s, track.along_m))
    cut_m = CUT_SHARE_PER_S2 * step_s**2 * way_m
    return float(np.sum(cut_m) / max(float(track.along_m[-1]), 1.0))


def speed_sd(track: Track, t_s: FloatArray) -> FloatArray:
    """Standard deviation (k,) in m/s of the speed at moments (k,).

    Between two fixes it is that of the nearer one; within a long step the car's own acceleration
    comes on top, as far as both its ends leave it; inside a gap the speed may have gone anywhere
    that the rest of the drive went, most so in its middle.
    """
    at = np.clip(t_s, track.t_s[0], track.t_s[-1])
    leg = track.leg_at(at)
    step_s = track.t_s[leg + 1] - track.t_s[leg]
    share = (at - track.t_s[leg]) / step_s
    fix = np.where(share < 0.5, leg, leg + 1)
    beyond_mps = np.hypot(scale_sd(track) * track.speed_mps[fix], MOMENTARY_SD_MPS)
    standing = track.stopped[leg] & track.stopped[leg + 1]
    in_gap = track.gap[leg] & ~standing
    in_step = track.long[leg] & ~track.gap[leg] & ~standing
    whole_var, driven_var = track.smoothed.velocity_var(fix)
    between_var = in_step * _bridged_velocity_var(track.model, step_s, share)
    fix_var = whole_var - driven_var + track.ahead_share * (driven_var + between_var)
    own_mps = np.hypot(np.sqrt(fix_var), beyond_mps)
    unseen_mps = in_gap * track.speeds_vary_mps * np.sqrt(4 * share * (1 - share))
    held = track.stopped[fix] & ~in_gap & ~in_step
    return np.asarray(np.where(held, 0.0, np.hypot(own_mps, unseen_mps)))


def _bridged_velocity_var(model: MotionModel, step_s: FloatArray, share: FloatArray) -> FloatArray:
    """Variance (k,) of the velocity at a share of a step whose ends are known in place and speed.

    That of the motion model, white acceleration: q h u (1 - u) (1 - 3 u (1 - u)).
    """
    across = share * (1 - share)
    return np.asarray(model.q_m2_per_s3 * step_s * across * (1 - 3 * across))
