"""A way through the pits: beside the course, past the gate, and a little longer."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from simulator.course import Course, FloatArray
from simulator.drive import Drive

_RAMP_M = 80.0  # over which the lane leaves the course and comes back
_REACH_M = 220.0  # before and after the gate
_ASIDE_M = 25.0
_GRID_M = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class PitCourse(Course):
    """A course of which one passing of the gate went through the pits.

    ``on_course_m`` and ``driven_m`` (k,) translate places without and with the detour.
    """

    on_course_m: FloatArray
    driven_m: FloatArray
    aside_m: FloatArray

    def plane_at(self, s_m: FloatArray) -> FloatArray:
        """East and north of the course's middle, metres, shape (n, 2)."""
        base_m = self._base(s_m)
        aside_m = np.interp(base_m, self.on_course_m, self.aside_m)
        return _beside(self, base_m, aside_m)

    def heading_deg(self, s_m: FloatArray) -> FloatArray:
        """Clockwise from north, in [0, 360), shape (n,)."""
        base_m = self._base(s_m)
        slope = np.gradient(self.aside_m, self.on_course_m)
        turned_deg = np.degrees(np.arctan(np.interp(base_m, self.on_course_m, slope)))
        return np.asarray((Course.heading_deg(self, base_m) + turned_deg) % 360)

    def gates_m(self, first_m: float, last_m: float) -> FloatArray:
        """Where the gate lies between two places, each time round, shape (k,)."""
        first, last = self._base(np.array([first_m, last_m])).tolist()
        return self.with_detour(Course.gates_m(self, first, last))

    def with_detour(self, base_m: FloatArray) -> FloatArray:
        """Places counted along the way driven, from places counted along the course."""
        longer_m = np.interp(base_m, self.on_course_m, self.driven_m - self.on_course_m)
        return np.asarray(base_m + longer_m)

    def _base(self, s_m: FloatArray) -> FloatArray:
        longer_m = np.interp(s_m, self.driven_m, self.driven_m - self.on_course_m)
        return np.asarray(s_m - longer_m)


def through_pits(course: Course, drive: Drive, gate_m: float) -> tuple[PitCourse, Drive]:
    """The same drive, led through the pits where it passed the gate at ``gate_m``."""
    on_course_m = np.arange(gate_m - _REACH_M, gate_m + _REACH_M + _GRID_M, _GRID_M)
    inside = np.clip((_REACH_M - np.abs(on_course_m - gate_m)) / _RAMP_M, 0, 1)
    aside_m = _ASIDE_M * inside**2 * (3 - 2 * inside)
    legs_m = np.hypot(*np.diff(_beside(course, on_course_m, aside_m), axis=0).T)
    driven_m = on_course_m[0] + np.concatenate([[0.0], np.cumsum(legs_m)])
    base = {field.name: getattr(course, field.name) for field in fields(course)}
    pits = PitCourse(**base, on_course_m=on_course_m, driven_m=driven_m, aside_m=aside_m)
    stretch = np.interp(drive.s_m, on_course_m[:-1], legs_m / _GRID_M, left=1.0, right=1.0)
    return pits, replace(drive, s_m=pits.with_detour(drive.s_m), v_mps=drive.v_mps * stretch)


def _beside(course: Course, s_m: FloatArray, aside_m: FloatArray) -> FloatArray:
    """Points so far to the right of the course, (n, 2)."""
    way = np.radians(Course.heading_deg(course, s_m))
    right = np.column_stack([np.cos(way), -np.sin(way)])
    return np.asarray(Course.plane_at(course, s_m) + aside_m[:, None] * right)
