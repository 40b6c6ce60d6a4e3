"""Whether another device's fixes can be of the same car: what its track could not have reached.

A fix in a gap of the leader's must lie within reach of both ends of that gap; a track seen at the
same moments as the leader's must lie where that one lies. What can't belong is not used, and a
doubt says whose it is, how far off, and from when to when.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.naming import clock_time, length
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.track.alignment import coarse_shift
from ebbline.measure.track.fixes import RADIUS_95_TO_SIGMA, Fixes
from ebbline.measure.track.receiver_noise import USUAL_SIGMA_M
from ebbline.measure.track.track import Track
from ebbline.records.arrays import BoolArray, FloatArray
from ebbline.records.result import Finding

# In a gap a car may go faster than anywhere else in the drive: half as much again and 10 m/s
# (common practice, no source).
_FASTER = 1.5
_FASTER_MPS = 10.0
_BESIDE_M = 30.0  # two receivers in one car, in places that are bad for both
_MOST_CLAIMED_M = 500.0  # one that claims to be worse than this is not given more room
_FEW = 0.1  # with more than this share out of reach in a gap, the rest there only seems in reach
_LEAST_COMMON = 10  # fixes at the same moments, to say anything


def in_reach(
    other: Fixes, inside: BoolArray, track: Track, leader: Fixes, clock_s: float
) -> tuple[BoolArray, FloatArray]:
    """Which of the fixes inside gaps (n,) the car can have made, and how far off each lies.

    The distance (n,) in metres is to the nearer end of the gap; ``track`` is the leader's;
    ``clock_s`` is how far off the other's clock may be.
    """
    leg = track.leg_at(other.t_s)
    position_m = np.column_stack(track.plane.forward(other.lat, other.lon))
    within_mps = _FASTER * float(np.max(track.speed_mps)) + _FASTER_MPS
    reached = inside.copy()
    off_m = np.full(inside.size, np.inf)
    for end in (leg, leg + 1):
        away_m = np.hypot(*(position_m - track.position_m[end]).T)
        away_s = np.abs(other.t_s - track.t_s[end]) + clock_s
        doubt_m = _claimed_m(other.sigma_m) + _claimed_m(leader.sigma_m)[end] + _BESIDE_M
        reached &= away_m <= within_mps * away_s + doubt_m
        off_m = np.minimum(off_m, away_m)
    for gap in np.unique(leg[inside]):
        here = inside & (leg == gap)
        if np.mean(~reached[here]) > _FEW:
            reached &= ~here
    return reached, off_m


def beside(
    other: Fixes, track: Track, leader: Fixes, clock: DeviceClock
) -> tuple[float, Finding | None]:
    """How far off another's clock may be, in seconds, by what both saw at the same moments.

    With the doubt when no shift of that clock brings its track near the leader's.
    """
    leg = track.leg_at(other.t_s)
    common = (other.t_s >= track.t_s[0]) & (other.t_s <= track.t_s[-1]) & ~track.gap[leg]
    declared_s = 2 * clock.sd_s
    found = coarse_shift(_chosen(other, common), track, _LEAST_COMMON)
    if found is None:
        return declared_s, None
    shift_s, apart_m = found
    doubt_m = _claimed_m(other.sigma_m[common]) + _claimed_m(leader.sigma_m)[leg[common]]
    if apart_m <= 2 * float(np.median(doubt_m)) + _BESIDE_M:
        return max(declared_s, abs(shift_s)), None
    at_s = other.t_s[common]
    position_m = np.column_stack(track.plane.forward(other.lat[common], other.lon[common]))
    away_m = np.hypot(*(position_m - track.position_at(at_s)).T)
    return declared_s, _apart(other.device, leader.device, at_s, float(np.median(away_m)))


def _chosen(fixes: Fixes, chosen: BoolArray) -> Fixes:
    columns = (getattr(fixes, name)[chosen] for name in Fixes.__slots__ if name != "device")
    return Fixes(fixes.device, *columns)


def _apart(device: str, leader: str, at_s: FloatArray, away_m: float) -> Finding:
    return Finding(
        "doubt",
        "tracks_apart",
        f"From {clock_time(at_s[0])} to {clock_time(at_s[-1])} {device} was {length(away_m)} "
        f"away from {leader} at the same moments: another car, another day, or a clock that is "
        f"off. Only the track of {leader} is used. If that is the wrong one, leave its positions "
        f"out; if a clock is off, state its offset.",
        f"breadcrumbs of {device}",
    )


def out_of_reach(other: Fixes, left_out: BoolArray, off_m: FloatArray, leader: str) -> Finding:
    """The doubt about fixes (n,) in the leader's gaps that the car can't have made."""
    at_s = other.t_s[left_out]
    count = at_s.size
    return Finding(
        "doubt",
        "fixes_out_of_reach",
        f"{count} {'position' if count == 1 else 'positions'} of {other.device} in gaps of "
        f"{leader}, from {clock_time(at_s[0])} to {clock_time(at_s[-1])}, can't belong to this "
        f"drive: up to {length(float(np.max(off_m[left_out])))} from where the car was last or "
        f"next seen. They are not used. If they are of another car or day, leave out the "
        f"positions of {other.device}; if its clock is off, state its offset.",
        f"breadcrumbs of {other.device}",
    )


def _claimed_m(sigma_m: FloatArray) -> FloatArray:
    """The 95 % radius (n,) a receiver claims, a usual one where it claims none."""
    radius_m = RADIUS_95_TO_SIGMA * np.where(np.isfinite(sigma_m), sigma_m, USUAL_SIGMA_M)
    return np.asarray(np.minimum(radius_m, _MOST_CLAIMED_M))
