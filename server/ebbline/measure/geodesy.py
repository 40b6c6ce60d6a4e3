"""Distance on the ellipsoid WGS 84, and the plane we work in."""

from __future__ import annotations

import numpy as np
from pyproj import Geod, Transformer
from pyproj.crs import CRS

from ebbline.records.arrays import FloatArray

_GEOD = Geod(ellps="WGS84")
_QUARTER_M = 1.0e7  # of the globe


def legs_m(lat: FloatArray, lon: FloatArray) -> FloatArray:
    """Geodesic legs (n - 1,) between fixes (n,), degrees, WGS 84 (Karney 2013)."""
    if lat.size < 2:
        return np.empty(0)
    return np.asarray(_GEOD.line_lengths(lon, lat))


def polyline_m(lat: FloatArray, lon: FloatArray) -> float:
    """Sum of the legs along fixes of shape (n,)."""
    return float(np.sum(legs_m(lat, lon)))


def distance_m(from_lat: float, from_lon: float, to_lat: float, to_lon: float) -> float:
    """One geodesic, degrees, WGS 84; for many use ``polyline_m``."""
    # Few analyses need one, and the library loads its geocoders, HTTP clients and all, first.
    from geopy.distance import geodesic

    return float(geodesic((from_lat, from_lon), (to_lat, to_lon)).meters)


class LocalPlane:
    """East and north in metres around one point: transverse Mercator, scale 1 at its middle.

    Lengths are true to 1.3e-6 within 10 km of the middle meridian, far below any phone's error.
    The two points a quarter of the globe to the east and west have no place in it; they are put
    at its edge, so that a wild fix there is as far off as any.
    """

    def __init__(self, lat: float, lon: float) -> None:
        """Centre the plane at a point, degrees."""
        plane = CRS.from_proj4(
            f"+proj=tmerc +lat_0={lat!r} +lon_0={lon!r} +k=1 +ellps=WGS84 +units=m +no_defs"
        )
        self._to_plane = Transformer.from_crs(plane.geodetic_crs, plane, always_xy=True)

    def forward(self, lat: FloatArray, lon: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Degrees to east and north, metres; same shapes."""
        east, north = self._to_plane.transform(lon, lat)
        nowhere = ~np.isfinite(east)
        return np.where(nowhere, _QUARTER_M, east), np.where(nowhere, 0.0, north)

    def inverse(self, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
        """East and north in metres to latitude and longitude; same shapes."""
        lon, lat = self._to_plane.transform(east, north, direction="INVERSE")
        return np.asarray(lat, dtype=float), np.asarray(lon, dtype=float)
