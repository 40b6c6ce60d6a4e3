"""Lengths on the ellipsoid against published lines, with two other libraries as second opinion.

Every line is computed three times: by our own function or its library, by geographiclib and,
on WGS 84, by geopy. Sources and how sure they are stand in SOURCES.md.
"""

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from geopy.distance import geodesic, great_circle
from pyproj import Geod

from ebbline.measure.geodesy import LocalPlane, polyline_m

MILLIMETRE = 1e-3
INTERNATIONAL = (6378388.0, 297.0)
BESSEL = (6377397.155, 299.1528128)
EARTH_RADIUS_M = 6371008.8


def dms(degrees, minutes, seconds):
    return math.copysign(abs(degrees) + minutes / 60 + seconds / 3600, degrees)


def ours_m(*points):
    lat, lon = np.array(points, dtype=float).T
    return polyline_m(lat, lon)


@pytest.mark.parametrize(
    ("start", "end", "published_m"),
    [
        # GeographicLib documentation (Karney, J. Geodesy 87, 2013); read-2nd.
        ((40.6, -73.8), (51.6, -0.5), 5551759.400319),
        ((-41.32, 174.81), (40.96, -5.50), 19959679.267354),
        # a pi/180 on the equator; closed form.
        ((0.0, 0.0), (0.0, 1.0), 6378137.0 * math.pi / 180),
        # Quarter meridian, elliptic integral; from memory.
        ((0.0, 0.0), (90.0, 0.0), 10001965.7293),
        # Flinders Peak to Buninyong on GRS 80, 1e-7 m from WGS 84 here; ICSM sample, read-2nd.
        (
            (-dms(37, 57, 3.72030), dms(144, 25, 29.52440)),
            (-dms(37, 39, 10.15610), dms(143, 55, 35.38390)),
            54972.271,
        ),
    ],
)
def test_a_line_on_wgs_84_has_its_published_length(start, end, published_m):
    assert ours_m(start, end) == pytest.approx(published_m, abs=MILLIMETRE)
    assert ours_m(end, start) == pytest.approx(published_m, abs=MILLIMETRE)
    assert geodesic(start, end).m == pytest.approx(published_m, abs=MILLIMETRE)
    second = Geodesic.WGS84.Inverse(*start, *end)["s12"]
    assert ours_m(start, end) == pytest.approx(second, abs=1e-6)


@pytest.mark.parametrize(
    ("ellipsoid", "lat1", "lat2", "lon", "published_m"),
    [
        (BESSEL, dms(55, 45, 0), -dms(33, 26, 0), dms(108, 13, 0), 14110526.170),
        (
            INTERNATIONAL,
            dms(37, 19, 54.95367),
            dms(26, 7, 42.83946),
            dms(41, 28, 35.50729),
            4085966.703,
        ),
        (
            INTERNATIONAL,
            dms(35, 16, 11.24862),
            dms(67, 22, 14.77638),
            dms(137, 47, 28.31435),
            8084823.839,
        ),
        (INTERNATIONAL, 1.0, -dms(0, 59, 53.83076), dms(179, 17, 48.02997), 19960000.000),
        (INTERNATIONAL, 1.0, dms(1, 1, 15.18952), dms(179, 46, 17.84244), 19780006.558),
    ],
)
def test_vincentys_lines_come_out_of_the_library_under_our_lengths(
    ellipsoid, lat1, lat2, lon, published_m
):
    """Vincenty, Survey Review XXIII(176), 1975, Table II; read-2nd.

    Our function is WGS 84 only, so these hold the library it stands on.
    """
    a, inverse_flattening = ellipsoid
    by_library = Geod(a=a, rf=inverse_flattening).line_lengths([0.0, lon], [lat1, lat2])
    second = Geodesic(a, 1 / inverse_flattening).Inverse(lat1, 0.0, lat2, lon)["s12"]
    assert float(by_library[0]) == pytest.approx(published_m, abs=MILLIMETRE)
    assert second == pytest.approx(published_m, abs=MILLIMETRE)


def test_a_leg_laid_off_by_its_azimuth_ends_where_published():
    """GeographicLib documentation, direct problem: 20 000 km from 32.06 S 115.74 E; from memory.

    We lay off no legs, so this holds the library we stand on.
    """
    laid = Geodesic.WGS84.Direct(-32.06, 115.74, 225.0, 20e6)
    assert (laid["lat2"], laid["lon2"]) == pytest.approx((32.111955, -63.959253), abs=1e-6)
    lon, lat, _ = Geod(ellps="WGS84").fwd(115.74, -32.06, 225.0, 20e6)
    assert (lat, lon) == pytest.approx((32.111955, -63.959253), abs=1e-6)


def test_legs_add_up_to_the_published_perimeter():
    """The polygon of the geographiclib documentation, 18 points; from memory."""
    polygon = [
        (-63.1, -58), (-72.9, -74), (-71.9, -102), (-74.9, -102), (-74.3, -131), (-77.5, -163),
        (-77.4, 163), (-71.7, 172), (-65.9, 140), (-65.7, 113), (-66.6, 88), (-66.9, 59),
        (-69.8, 25), (-70.0, -4), (-71.0, -14), (-77.3, -33), (-77.9, -46), (-74.7, -61),
    ]  # fmt: skip
    assert ours_m(*polygon, polygon[0]) == pytest.approx(16831067.893, abs=MILLIMETRE)


@pytest.mark.parametrize(
    ("start", "end", "share"),
    [
        ((45.0, 0.0), (45.0 + 0.009, 0.0), 0.000569),
        ((45.0, 0.0), (45.0, 0.0127), -0.002791),
        ((0.0, 0.0), (0.009, 0.0), 0.005614),
        ((60.0, 0.0), (60.0, 0.0179), -0.003628),
    ],
)
def test_our_lengths_are_not_those_of_a_sphere(start, end, share):
    """A sphere of 6371008.8 m is up to 0.56 % off (ran), more than a surveyed lap allows."""
    on_sphere_m = great_circle(start, end, radius=EARTH_RADIUS_M / 1000).m
    assert on_sphere_m / ours_m(start, end) - 1 == pytest.approx(share, abs=1e-5)


@pytest.mark.parametrize("lat", [-45.0, 0.0, 48.0, 70.0])
def test_the_working_plane_keeps_lengths_within_ten_kilometres(lat):
    """Held to 2e-6 against geodesics by geographiclib, for legs in every direction."""
    rng = np.random.default_rng(5)
    plane = LocalPlane(lat, 11.0)
    east, north = rng.uniform(-7e3, 7e3, (2, 200))
    bearing = rng.uniform(0, 2 * np.pi, 200)
    lats, lons = plane.inverse(
        np.concatenate([east, east + 100 * np.sin(bearing)]),
        np.concatenate([north, north + 100 * np.cos(bearing)]),
    )
    for k in range(200):
        line = Geodesic.WGS84.Inverse(lats[k], lons[k], lats[200 + k], lons[200 + k])
        assert line["s12"] == pytest.approx(100.0, rel=2e-6)
    back_east, back_north = plane.forward(lats[:200], lons[:200])
    np.testing.assert_allclose([back_east, back_north], [east, north], rtol=0, atol=1e-6)
