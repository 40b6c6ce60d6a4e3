"""Distance along the track, from fixes.

Not the polyline: noise makes a polyline too long, corners cut at 1 Hz make it too short, and it
grows while parked. Position and velocity are smoothed together (``kalman_smoother``), stops are
found and held still (``standstill``), and the way from fix to fix is summed (``steps``). What the
car may have done in gaps is an ensemble (``gap_passages``). ``covariance`` says how sure the rest
of the distance is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from ebbline.measure.geodesy import LocalPlane, polyline_m
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.gap_evidence import gap_evidence
from ebbline.measure.track.gap_passages import Unseen, share_slopes, unseen
from ebbline.measure.track.kalman_smoother import (
    MotionModel,
    Observations,
    Smoothed,
    smooth,
)
from ebbline.measure.track.receiver_noise import fit_model, starting_model
from ebbline.measure.track.speeds import share_ahead, speeds_mps, wander_velocity_var
from ebbline.measure.track.standstill import find_stops, hold
from ebbline.measure.track.steps import LONG_S, directions, gradients, lengths_m
from ebbline.records.arrays import BoolArray, FloatArray, IntArray

# A car that stood where its track ends is taken to stand a few minutes more, on either side
# (common practice, no source).
STOOD_BEYOND_S = 300.0
GAP_S = 5.0  # a step at least this long, and five ordinary ones, is a gap in the track
_ROBUST_DOF = 5.0  # Student-t weights: a fix far off counts little


@dataclass(frozen=True, eq=False)
class Track:
    """The smoothed track at its fixes, shape (n,).

    ``t_s`` seconds since the epoch; ``position_m`` (n, 2) in ``plane``; ``velocity_mps``
    (n, 2); ``speed_mps``; ``along_m`` distance since the first fix, never falling; ``stopped``
    fixes at standstill; ``gap`` (n-1,) steps without fixes between, and ``unseen`` what the car may
    have done in them; ``along_var_m2`` the variance of the distance since the first fix outside the
    gaps, never falling (see ``covariance``). ``by_positions``: no speeds were shown, or so seldom
    that distance hangs on the positions all the same. ``ahead_share``: the part of the
    acceleration's variance that changes the speed. ``distance`` and ``path`` are the cubics of
    ``along_m`` and ``position_m`` through the fixes.
    """

    t_s: FloatArray
    position_m: FloatArray
    velocity_mps: FloatArray
    speed_mps: FloatArray
    along_m: FloatArray
    stopped: BoolArray
    gap: BoolArray
    unseen: Unseen
    along_var_m2: FloatArray
    distance: CubicHermiteSpline
    path: CubicHermiteSpline
    polyline_m: float
    uses_doppler: bool
    by_positions: bool
    plane: LocalPlane
    model: MotionModel
    smoothed: Smoothed
    ahead_share: float
    claimed_m: float

    @cached_property
    def long(self) -> BoolArray:
        """Which steps (n-1,) are too long for their ends to tell what the car did between."""
        return np.asarray(np.diff(self.t_s) > LONG_S)

    @cached_property
    def speeds_vary_mps(self) -> float:
        """Standard deviation of the speeds at which the car moved; 0 where it never did."""
        moving_mps = self.speed_mps[~self.stopped]
        return float(np.std(moving_mps)) if moving_mps.size else 0.0

    def covers(self, t_s: FloatArray) -> BoolArray:
        """Which moments (k,) the track can place: on it, or soon beyond an end where it stood."""
        first_s = self.t_s[0] - STOOD_BEYOND_S * bool(self.stopped[0])
        last_s = self.t_s[-1] + STOOD_BEYOND_S * bool(self.stopped[-1])
        return np.asarray((t_s >= first_s) & (t_s <= last_s))

    def with_unseen(self, unseen: Unseen) -> Track:
        """The same track with other possibilities for its gaps."""
        step_m = np.diff(self.along_m)
        step_m[self.gap] = unseen.lengths_m()
        along_m = _summed(step_m)
        distance = _distance(self.t_s, along_m, self.speed_mps, self.gap, unseen)
        return replace(self, unseen=unseen, along_m=along_m, distance=distance)

    def along_at(self, t_s: FloatArray) -> FloatArray:
        """Distance at moments (k,), metres; NaN where the track can't place them."""
        clipped = np.clip(t_s, self.t_s[0], self.t_s[-1])
        leg = self.leg_at(clipped)
        within = np.clip(self.distance(clipped), self.along_m[leg], self.along_m[leg + 1])
        return np.where(self.covers(t_s), within, np.nan)

    def speed_at(self, t_s: FloatArray) -> FloatArray:
        """Speed at moments (k,), m/s; NaN where the track can't place them.

        Within a long step by the slope of the distance, which its ends alone don't tell.
        """
        speed_mps = np.interp(t_s, self.t_s, self.speed_mps)
        long = (self.long & ~self.gap)[self.leg_at(t_s)]
        speed_mps[long] = np.maximum(self.distance(t_s[long], 1), 0.0)
        return np.where(self.covers(t_s), speed_mps, np.nan)

    def position_at(self, t_s: FloatArray) -> FloatArray:
        """Position (k, 2) in the plane at moments (k,), held at the ends."""
        return np.asarray(self.path(np.clip(t_s, self.t_s[0], self.t_s[-1])))

    def leg_at(self, t_s: FloatArray) -> IntArray:
        """Index of the step (k,) in which each moment lies; the end steps beyond the ends."""
        index = np.searchsorted(self.t_s, t_s, side="right") - 1
        return np.asarray(np.clip(index, 0, self.t_s.size - 2))


def build(fixes: Fixes) -> Track:
    """Smooth one device's fixes into a track; deterministic.

    Raises:
        MeasureError: fewer than two fixes.
    """
    plane = LocalPlane(float(np.mean(fixes.lat)), _middle_deg(fixes.lon))
    position_m = np.column_stack(plane.forward(fixes.lat, fixes.lon))
    start = starting_model(fixes)
    observations = _observe(fixes, position_m, start.doppler_mps)
    if np.any(np.isfinite(fixes.speed_mps) & ~np.isfinite(fixes.heading_deg)):
        rough = smooth(observations, start)
        observations = _observe(fixes, position_m, start.doppler_mps, rough.velocity_mps)
    model = fit_model(observations, start)
    smoothed = smooth(observations, model)
    for _ in range(3):
        smoothed = smooth(_reweighed(observations, smoothed, model), model)
    observations = _reweighed(observations, smoothed, model)
    # the fit takes part of a quick drift for driving, so at rest the claim counts too
    stopped, seen_drift_m = find_stops(fixes, smoothed, max(model.drift_m, start.drift_m))
    wander_var = wander_velocity_var(fixes, smoothed, stopped)
    smoothed = smooth(hold(observations, stopped), model)

    step_s = np.diff(fixes.t_s)
    gap = step_s >= max(GAP_S, 5 * float(np.median(step_s)))
    speed_mps = speeds_mps(fixes, smoothed, stopped, wander_var)
    step_m = lengths_m(fixes.t_s, speed_mps, smoothed)
    gaps = gap_evidence(
        fixes.t_s,
        smoothed.position_m,
        smoothed.velocity_mps,
        speed_mps,
        stopped,
        gap,
        step_m,
        # without speeds the fit takes drift for driving, as above
        model.drift_m if fixes.have_speeds() else max(model.drift_m, start.drift_m),
    )
    hidden = unseen(gaps)
    step_m[gap] = hidden.lengths_m()
    along_m = _summed(step_m)
    return Track(
        t_s=fixes.t_s,
        position_m=smoothed.position_m,
        velocity_mps=smoothed.velocity_mps,
        speed_mps=speed_mps,
        along_m=along_m,
        stopped=stopped,
        gap=gap,
        unseen=hidden,
        along_var_m2=_along_var_m2(fixes.t_s, smoothed, stopped, gap),
        distance=_distance(fixes.t_s, along_m, speed_mps, gap, hidden),
        path=CubicHermiteSpline(fixes.t_s, smoothed.position_m, smoothed.velocity_mps, axis=0),
        polyline_m=polyline_m(fixes.lat, fixes.lon),
        uses_doppler=fixes.have_speeds(),
        by_positions=not fixes.have_speeds() or float(np.median(step_s)) > LONG_S,
        plane=plane,
        model=model,
        smoothed=smoothed,
        ahead_share=share_ahead(smoothed, ~(gap | stopped[:-1] | stopped[1:])),
        claimed_m=max(start.drift_m, seen_drift_m),
    )


def _middle_deg(lon: FloatArray) -> float:
    """The mean longitude, also of a track across the meridian of 180 degrees."""
    return float(np.mean(lon % 360 if np.ptp(lon) > 180 else lon))


def _observe(
    fixes: Fixes,
    position_m: FloatArray,
    doppler_mps: float,
    rough_mps: FloatArray | None = None,
) -> Observations:
    """Fixes as the smoother takes them; a speed without heading takes the rough direction."""
    claimed = np.isfinite(fixes.sigma_m)
    typical_m = max(float(np.median(fixes.sigma_m[claimed])), 1e-3) if np.any(claimed) else 1.0
    spread = np.clip(np.where(claimed, fixes.sigma_m, typical_m) / typical_m, 0.3, 1e3)
    heading = np.radians(fixes.heading_deg)
    direction = np.column_stack([np.sin(heading), np.cos(heading)])
    if rough_mps is not None:
        unknown = ~np.isfinite(direction[:, 0])
        direction[unknown] = directions(rough_mps[unknown])
    velocity_mps = fixes.speed_mps[:, None] * direction
    velocity_mps[fixes.speed_mps == 0] = 0.0
    return Observations(
        t_s=fixes.t_s,
        position_m=position_m,
        spread=spread,
        velocity_mps=velocity_mps,
        velocity_sd_mps=np.full(fixes.t_s.size, doppler_mps),
    )


def _reweighed(observations: Observations, smoothed: Smoothed, model: MotionModel) -> Observations:
    """Widen what lies far off: Student-t weights (Lange, Little, Taylor 1989, from memory)."""
    residual_m = observations.position_m - smoothed.position_m - smoothed.drift_m
    scaled = np.sum(residual_m**2, axis=1) / (model.white_m * observations.spread) ** 2
    widening = np.sqrt((_ROBUST_DOF + scaled) / (_ROBUST_DOF + 2))
    return replace(observations, spread=observations.spread * np.maximum(widening, 1.0))


def _along_var_m2(
    t_s: FloatArray, smoothed: Smoothed, stopped: BoolArray, gap: BoolArray
) -> FloatArray:
    """Variance (n,) of the distance by the smoother: its covariance with the whole distance."""
    start, end = gradients(t_s, smoothed)
    unseen = (stopped[:-1] & stopped[1:]) | gap
    start[unseen], end[unseen] = 0.0, 0.0
    whole = np.zeros((t_s.size, *start.shape[1:]))
    whole[:-1] += start
    whole[1:] += end
    shared = smoothed.solve(whole)
    steps_var_m2 = np.sum(start * shared[:-1] + end * shared[1:], axis=(1, 2))
    return np.maximum.accumulate(_summed(steps_var_m2))


def _distance(
    t_s: FloatArray, along_m: FloatArray, speed_mps: FloatArray, gap: BoolArray, unseen: Unseen
) -> CubicHermiteSpline:
    """The cubic of the distance through the fixes; in gaps its slopes never make it fall."""
    line = CubicHermiteSpline(t_s, along_m, speed_mps)
    for k, passages in zip(np.flatnonzero(gap), unseen.passages, strict=True):
        lasting_s, length_m = passages.gap.lasting_s, along_m[k + 1] - along_m[k]
        start, end = share_slopes(passages.gap, lasting_s, length_m)
        line.c[:3, k] = length_m * np.array([start + end - 2, 3 - 2 * start - end, start])
        line.c[:3, k] /= lasting_s ** np.array([3, 2, 1])
    return line


def _summed(steps: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(steps)])
