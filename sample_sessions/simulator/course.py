"""A closed course of an invented shape whose true length is known exactly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from pyproj import Geod, Proj
from scipy.interpolate import CubicSpline

FloatArray = npt.NDArray[np.float64]

_POINTS = 8192
_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The line that the car drives; ``s_m`` counts from the gate and goes round for ever."""

    lat: float
    lon: float
    length_m: float
    plane_m: CubicSpline  # s in [0, length] to east, north around (lat, lon)

    def plane_at(self, s_m: FloatArray) -> FloatArray:
        """East and north of the course's middle, metres, shape (n, 2)."""
        return np.asarray(self.plane_m(np.mod(s_m, self.length_m)))

    def heading_deg(self, s_m: FloatArray) -> FloatArray:
        """Clockwise from north, in [0, 360), shape (n,)."""
        east, north = self.plane_m(np.mod(s_m, self.length_m), 1).T
        return np.asarray(np.degrees(np.arctan2(east, north)) % 360)

    def curvature_per_m(self, s_m: FloatArray) -> FloatArray:
        """1/radius, never negative, shape (n,)."""
        s_m = np.mod(s_m, self.length_m)
        (dx, dy), (ddx, ddy) = self.plane_m(s_m, 1).T, self.plane_m(s_m, 2).T
        return np.asarray(np.abs(dx * ddy - dy * ddx) / np.hypot(dx, dy) ** 3)

    def gates_m(self, first_m: float, last_m: float) -> FloatArray:
        """Where the gate lies between two places, each time round, shape (k,)."""
        first = math.ceil(first_m / self.length_m) * self.length_m
        return np.arange(first, last_m, self.length_m)

    def geographic(self, plane_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Latitude and longitude, WGS 84 degrees, of points (n, 2) in the plane."""
        lon, lat = _plane(self.lat, self.lon)(plane_m[:, 0], plane_m[:, 1], inverse=True)
        return np.asarray(lat), np.asarray(lon)


def build_course(
    lat: float, lon: float, length_m: float, corners: FloatArray, rounding_m: float
) -> Course:
    """A polygon, its corners rounded by a Gaussian, scaled to a length on the ellipsoid.

    Args:
        lat: of the middle, degrees.
        lon: of the middle, degrees.
        length_m: geodesic length of one lap, exact to a millimetre.
        corners: (k, 2) east and north of any scale; the gate is half-way along the first side.
        rounding_m: the Gaussian's standard deviation; a right angle gets a radius of about
            1.6 times as much.
    """
    shape = np.asarray(corners, dtype=float)
    scale = length_m / _perimeter(shape)
    plane = _plane(lat, lon)
    for _ in range(6):
        smooth = _rounded(shape * scale, rounding_m)
        closed = np.vstack([smooth, smooth[:1]])
        lons, lats = plane(closed[:, 0], closed[:, 1], inverse=True)
        legs_m = np.asarray(_GEOD.line_lengths(lons, lats))
        scale *= length_m / legs_m.sum()
    s_m = np.concatenate([[0.0], np.cumsum(legs_m)])
    s_m *= length_m / s_m[-1]
    return Course(lat, lon, length_m, CubicSpline(s_m, closed, bc_type="periodic"))


def _plane(lat: float, lon: float) -> Proj:
    return Proj(proj="aeqd", lat_0=lat, lon_0=lon, ellps="WGS84", units="m")


def _perimeter(shape: FloatArray) -> float:
    return float(np.hypot(*(np.roll(shape, -1, axis=0) - shape).T).sum())


def _rounded(shape: FloatArray, rounding_m: float) -> FloatArray:
    """Points of equal spacing along the polygon from the middle of its first side, smoothed."""
    start = (shape[0] + shape[1]) / 2
    path = np.vstack([start, np.roll(shape, -1, axis=0), start])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    even = np.linspace(0, along[-1], _POINTS, endpoint=False)
    points = np.column_stack([np.interp(even, along, path[:, axis]) for axis in (0, 1)])
    per_m = np.fft.fftfreq(_POINTS, along[-1] / _POINTS)
    gaussian = np.exp(-2 * (np.pi * rounding_m * per_m) ** 2)
    smooth = np.fft.ifft(np.fft.fft(points, axis=0) * gaussian[:, None], axis=0)
    return np.asarray(smooth.real)
