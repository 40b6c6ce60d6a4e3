"""What a phone's satellite receiver makes of the drive: fixes with correlated errors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from simulator.course import Course, FloatArray
from simulator.drive import Drive
from simulator.smooth_errors import SmoothErrors

SIGMA_TO_RADIUS_95 = math.sqrt(-2 * math.log(0.05))  # W3C accuracy is a 95 % radius

Span = tuple[float, float]  # from, to; seconds since the start of the recording

_MOST_OFF = 0.07  # no fused speed is off by a greater share
_SHARE_WANDERS_S = 180.0
_FUSED_NOISE_S = 1.5


@dataclass(frozen=True, slots=True)
class FusedSpeeds:
    """Speeds that a phone makes of several sensors: late, smooth, and off by a share."""

    off_by: float  # the share, on the whole
    wanders: float  # standard deviation by which the share changes, over minutes
    late_s: float
    noise_mps: float = 0.08


@dataclass(frozen=True, slots=True)
class Receiver:
    """The evidence model: how far fixes are off and which are missing."""

    wandering_m: float = 2.0  # first-order Gauss-Markov, per axis
    time_constant_s: float = 60.0
    white_m: float = 0.4  # per axis
    doppler_mps: float = 0.12
    heading_deg: float = 1.5  # at 10 m/s, more when slower
    interval_s: float = 1.0
    lost_share: float = 0.004  # single fixes that never come
    double_share: float = 0.0  # fixes delivered twice
    late_share: float = 0.0  # fixes delivered after up to three later ones
    outlier_share: float = 0.0
    outlier_m: tuple[float, float] = (20.0, 200.0)  # how far an outlier is off
    outages_s: tuple[Span, ...] = ()
    without_speed_s: tuple[Span, ...] = ()
    smooth: SmoothErrors | None = None  # instead of wandering and white
    irregular_s: tuple[float, float] | None = None  # steps of any length between, else even ones
    claims: float | None = 1.0  # claimed accuracy over the true one; None: claims nothing
    fused: FusedSpeeds | None = None  # instead of Doppler speeds

    @property
    def sigma_m(self) -> float:
        """Standard deviation of a position, per axis."""
        if self.smooth is not None:
            return self.smooth.sigma_m
        return math.hypot(self.wandering_m, self.white_m)


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """Fixes in the order of delivery, shape (n,); NaN where the phone gave null."""

    t_s: FloatArray
    lat: FloatArray
    lon: FloatArray
    accuracy_m: FloatArray
    speed_mps: FloatArray
    heading_deg: FloatArray


def receive(
    course: Course,
    drive: Drive,
    until_s: float,
    receiver: Receiver,
    rng: np.random.Generator,
    from_s: float = 0.35,
) -> Fixes:
    """The fixes of a drive, and of standing where it began and ended, between two moments."""
    t_s = _moments_s(from_s, until_s, receiver, rng)
    s_m, v_mps = drive.at(drive.s_m, t_s), drive.at(drive.v_mps, t_s)
    n = t_s.size
    position_m = course.plane_at(s_m)
    if receiver.smooth is not None:
        position_m += receiver.smooth.at(t_s, rng)
    else:
        position_m += receiver.wandering_m * _wandering(t_s, receiver.time_constant_s, rng)
        position_m += receiver.white_m * rng.standard_normal((n, 2))
    if receiver.outlier_share:
        position_m += _outliers_m(n, receiver, rng)
    lat, lon = course.geographic(position_m)
    mood = 0.1 * _wandering(t_s, receiver.time_constant_s, rng)[:, 0]
    accuracy_m = SIGMA_TO_RADIUS_95 * receiver.sigma_m * np.exp(mood)
    accuracy_m *= math.nan if receiver.claims is None else receiver.claims
    standing = v_mps < 0.05
    if receiver.fused is not None:
        speed_mps = _fused_mps(drive, t_s, receiver.fused, rng)
    else:
        noise_mps = np.where(standing, 0.02, receiver.doppler_mps) * rng.standard_normal(n)
        speed_mps = np.abs(v_mps + noise_mps)
    spread_deg = receiver.heading_deg * 10 / np.maximum(v_mps, 1.0)
    heading_deg = (course.heading_deg(s_m) + spread_deg * rng.standard_normal(n)) % 360
    heading_deg[v_mps < 0.5] = np.nan
    blank = _within(t_s, receiver.without_speed_s)
    speed_mps[blank] = np.nan
    heading_deg[blank] = np.nan
    lost = (rng.random(n) < receiver.lost_share) & (t_s > 5)
    kept = np.flatnonzero(~lost & ~_within(t_s, receiver.outages_s))
    rows = np.repeat(kept, 1 + (rng.random(kept.size) < receiver.double_share))
    if receiver.late_share:
        rows = _late(rows, receiver.late_share, rng)
    columns = (t_s, lat, lon, accuracy_m, speed_mps, heading_deg)
    return Fixes(*(column[rows] for column in columns))


def _outliers_m(n: int, receiver: Receiver, rng: np.random.Generator) -> FloatArray:
    """Offsets (n, 2) in metres: nothing for most, a long way in any direction for a few."""
    off_m = rng.uniform(*receiver.outlier_m, n) * (rng.random(n) < receiver.outlier_share)
    way = rng.uniform(0, 2 * math.pi, n)
    return np.asarray(off_m[:, None] * np.column_stack([np.sin(way), np.cos(way)]))


def _late(rows: np.ndarray, share: float, rng: np.random.Generator) -> np.ndarray:
    """The order in which fixes come when some are held up by one to three places."""
    held_up = rng.integers(1, 4, rows.size) * (rng.random(rows.size) < share)
    return np.asarray(rows[np.argsort(np.arange(rows.size) + 1.5 * held_up, kind="stable")])


def _moments_s(
    from_s: float, until_s: float, receiver: Receiver, rng: np.random.Generator
) -> FloatArray:
    if receiver.irregular_s is None:
        return np.arange(from_s, until_s, receiver.interval_s)
    most = math.ceil((until_s - from_s) / receiver.irregular_s[0])
    steps_s = rng.uniform(*receiver.irregular_s, most)
    t_s = from_s + np.concatenate([[0.0], np.cumsum(steps_s)])
    return np.asarray(t_s[t_s < until_s])


def _wandering(t_s: FloatArray, time_s: float, rng: np.random.Generator) -> FloatArray:
    """First-order Gauss-Markov of unit variance at moments (n,), two axes, shape (n, 2)."""
    kept = np.exp(-np.diff(t_s) / time_s)
    kicks = rng.standard_normal((t_s.size, 2))
    if np.ptp(kept) < 1e-9:
        keep = float(kept[0])
        kicks[1:] *= math.sqrt(1 - keep**2)
        return np.asarray(lfilter([1.0], [1.0, -keep], kicks, axis=0))
    found = np.empty_like(kicks)
    found[0] = kicks[0]
    for k, keep in enumerate(kept.tolist()):
        found[k + 1] = keep * found[k] + math.sqrt(1 - keep**2) * kicks[k + 1]
    return found


def _fused_mps(
    drive: Drive, t_s: FloatArray, fused: FusedSpeeds, rng: np.random.Generator
) -> FloatArray:
    """Shown speeds (n,): the last moments' mean, off by a share that wanders, and noise."""
    recent_s = t_s[:, None] - np.linspace(0, 2 * fused.late_s, 9)
    true_mps = drive.at(drive.v_mps, recent_s).mean(axis=1)
    share = fused.off_by + fused.wanders * _wandering(t_s, _SHARE_WANDERS_S, rng)[:, 0]
    noise_mps = fused.noise_mps * _wandering(t_s, _FUSED_NOISE_S, rng)[:, 0]
    shown_mps = true_mps * (1 + np.clip(share, -_MOST_OFF, _MOST_OFF)) + noise_mps
    return np.asarray(np.where(true_mps < 0.05, 0.0, np.abs(shown_mps)))


def _within(t_s: FloatArray, spans: tuple[Span, ...]) -> np.ndarray:
    found = np.zeros(t_s.size, dtype=bool)
    for start_s, end_s in spans:
        found |= (t_s > start_s) & (t_s < end_s)
    return found
