"""From a device's stamps to true moments in session time.

A stamp is right up to the device's offset, the jumps its clock made while recording, and, for a
tap, the delay between the fact and the finger.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ebbline.measure.geodesy import distance_m
from ebbline.measure.numerics.stretches import stretches
from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.evidence import Breadcrumbs
from ebbline.records.setup import Device

_MIN_JUMP_S = 30.0
_CLOCKS_APART_S = 2.0  # over one gap: rounding and rates
_MOVING_MPS = 3.0
_STRAIGHT_ON_RAD = 1.0
_MOST_LATE = 6  # fixes in a row that may come late


@dataclass(frozen=True, slots=True)
class ClockPart:
    """A stretch of one device's recording over which its clock was not set.

    It starts at fix ``from_seq`` and spans these raw stamps; add ``shift_ms`` to a stamp of it
    to put it on the clock of the first part. ``pages``: the loads of the recording page that made
    its fixes, where told.
    """

    from_seq: int
    first_ms: int
    last_ms: int
    shift_ms: float
    pages: frozenset[str] = frozenset()

    def distance_ms(self, t_ms: float) -> float:
        """How far a raw stamp lies outside this part's range; 0 inside."""
        return max(self.first_ms - t_ms, t_ms - self.last_ms, 0.0)


@dataclass(frozen=True, slots=True)
class ClockCorrection:
    """What the tracks say a clock is behind, beyond its declared offset.

    ``offset_s`` at ``middle_s`` (session time by the declared offset), growing by ``drift``
    seconds per second; ``sd_s`` is its standard deviation.
    """

    offset_s: float
    drift: float
    middle_s: float
    sd_s: float

    def behind_s(self, t_s: FloatArray | float) -> FloatArray:
        """Seconds to add at session times (n,) by the declared offset."""
        return np.asarray(self.offset_s + self.drift * (np.asarray(t_s) - self.middle_s))


@dataclass(frozen=True, slots=True)
class DeviceClock:
    """One device's clock against session time; no parts when it recorded no fixes."""

    device: Device
    parts: tuple[ClockPart, ...] = ()
    correction: ClockCorrection | None = None

    @property
    def sd_s(self) -> float:
        """Standard deviation of this clock against session time."""
        if self.correction is not None:
            return self.correction.sd_s
        return self.device.clock_offset_sd_ms / 1000

    def session_ms(self, t_ms: IntArray, seq: IntArray) -> FloatArray:
        """Session time of stamps (n,) of fixes with these ``seq`` (n,)."""
        starts = [part.from_seq for part in self.parts]
        shifts = np.array([part.shift_ms for part in self.parts])
        part = np.searchsorted(starts, seq, side="right") - 1
        return self._corrected_ms(t_ms + self.device.clock_offset_ms + shifts[part])

    def session_ms_of_tap(self, t_ms: float, page: str | None = None) -> float:
        """Session time of a stamp that isn't a fix.

        It belongs to the part it is nearest to, among those that the same load of the page
        recorded if there are any. A stamp that the clock went over twice lies midway.
        """
        first_ms, last_ms = self._possible_ms(t_ms, page)
        return (first_ms + last_ms) / 2

    def ambiguity_s(self, t_ms: float, page: str | None = None) -> float:
        """How far apart in time the moments lie that a stamp may mean; 0 for a plain one."""
        first_ms, last_ms = self._possible_ms(t_ms, page)
        return (last_ms - first_ms) / 1000

    def _possible_ms(self, t_ms: float, page: str | None) -> tuple[float, float]:
        """The earliest and the latest session time that a stamp may mean."""
        own = tuple(part for part in self.parts if page is not None and page in part.pages)
        among = own or self.parts
        nearest_ms = min((part.distance_ms(t_ms) for part in among), default=0.0)
        shifts_ms = [p.shift_ms for p in among if p.distance_ms(t_ms) == nearest_ms] or [0.0]
        declared_ms = (
            t_ms + self.device.clock_offset_ms + np.array([min(shifts_ms), max(shifts_ms)])
        )
        first_ms, last_ms = self._corrected_ms(declared_ms)
        return float(first_ms), float(last_ms)

    def _corrected_ms(self, declared_ms: FloatArray) -> FloatArray:
        if self.correction is None:
            return np.asarray(declared_ms, dtype=float)
        return np.asarray(declared_ms + 1000 * self.correction.behind_s(declared_ms / 1000))


def find_parts(crumbs: Breadcrumbs) -> tuple[ClockPart, ...]:
    """The parts between settings of the clock, from the fixes in the order they were made.

    Time running backwards is a setting. A long step forward is one when the car was moving on
    both sides and came only as far as in an ordinary step; otherwise it is a gap, as it is where
    the monotonic clock stepped as far. The setting of a parked car's clock can't be told from a
    pause and stays a pause.
    """
    kept = np.flatnonzero(~_late(crumbs))
    seq, t_ms = crumbs.seq[kept], crumbs.t_ms[kept]
    step_s = np.diff(t_ms) / 1000
    ordinary = step_s[(step_s > 0) & (step_s < _MIN_JUMP_S)]
    usual_s = float(np.median(ordinary)) if ordinary.size else 1.0
    starts = [0]
    shifts_ms = [0.0]
    suspected = (step_s < -1.0) | ((step_s > _MIN_JUMP_S) & ~_ran_on(crumbs, kept, step_s))
    for k in np.flatnonzero(suspected):
        true_step_s = _step_by_movement(crumbs, kept, int(k), usual_s)
        if step_s[k] > 0 and (true_step_s is None or true_step_s > 4 * usual_s):
            continue
        true_step_s = usual_s if true_step_s is None else true_step_s
        starts.append(int(k) + 1)
        shifts_ms.append(shifts_ms[-1] + float(np.round((true_step_s - step_s[k]) * 1000)))
    ends = [*starts[1:], seq.size]
    return tuple(
        ClockPart(
            from_seq=int(seq[start]),
            first_ms=int(t_ms[start]),
            last_ms=int(t_ms[end - 1]),
            shift_ms=shift_ms,
            pages=_pages(crumbs, kept[start:end]),
        )
        for start, end, shift_ms in zip(starts, ends, shifts_ms, strict=True)
    )


def _ran_on(crumbs: Breadcrumbs, kept: IntArray, step_s: FloatArray) -> BoolArray:
    """Steps (n-1,) that the monotonic clock of one load of the page took as well."""
    page = crumbs.page[kept]
    same_load = (page[1:] == page[:-1]) & (page[1:] != "")
    by_monotonic_s = np.diff(crumbs.mono_ms[kept]) / 1000
    return np.asarray(same_load & (np.abs(by_monotonic_s - step_s) < _CLOCKS_APART_S))


def _pages(crumbs: Breadcrumbs, fixes: IntArray) -> frozenset[str]:
    """The loads of the recording page that made some fixes, where told."""
    return frozenset(np.unique(crumbs.page[fixes]).tolist()) - {""}


def _late(crumbs: Breadcrumbs) -> BoolArray:
    """Fixes (n,) delivered after later ones: a few stamps that fall back into a hole, or repeat.

    A clock set back goes over times that it has been through; a late fix goes where one is missing.
    """
    t_ms = crumbs.t_ms
    behind_ms = np.maximum.accumulate(t_ms) - t_ms
    late = np.zeros(t_ms.size, dtype=bool)
    step_ms = np.diff(t_ms)
    usual_ms = float(np.median(step_ms[step_ms > 0])) if np.any(step_ms > 0) else 1000.0
    for first, last in stretches(behind_ms > 0):
        if last - first >= _MOST_LATE or behind_ms[first] > 1000 * _MIN_JUMP_S:
            continue
        near = slice(max(first - 3 * _MOST_LATE, 0), first)
        for k in range(first, last + 1):
            same = np.abs(t_ms[near] - t_ms[k]) < usual_ms / 2
            repeats = (
                same & (crumbs.lat[near] == crumbs.lat[k]) & (crumbs.lon[near] == crumbs.lon[k])
            )
            late[k] = bool(np.any(repeats)) or not bool(np.any(same))
    return late


def _step_by_movement(crumbs: Breadcrumbs, kept: IntArray, k: int, usual_s: float) -> float | None:
    """How long fix k to k+1 took, from the car's speed around it; None if it wasn't moving."""
    first = max(k - 1, 0)
    around = slice(first, k + 3)
    places = list(zip(crumbs.lat[kept[around]], crumbs.lon[kept[around]], strict=True))
    leg_m = np.array([distance_m(*place, *following) for place, following in pairwise(places)])
    here = k - first
    neighbours_mps = np.delete(leg_m, here) / usual_s
    if neighbours_mps.size == 0 or bool(np.any(neighbours_mps < _MOVING_MPS)):
        return None
    # On a course that folds back, the far end of a gap may lie near its beginning: a car whose
    # clock was set goes straight on.
    north = np.diff(crumbs.lat[kept[around]])
    east = np.diff(crumbs.lon[kept[around]]) * np.cos(np.radians(places[0][0]))
    heading = np.unwrap(np.arctan2(east, north))
    if bool(np.any(np.abs(np.delete(heading, here) - heading[here]) > _STRAIGHT_ON_RAD)):
        return None
    return float(leg_m[here] / np.mean(neighbours_mps))
