"""What a receiver's error does to lengths, against the distributions that describe it."""

import numpy as np
import pytest
from scipy.stats import chi2, rice

from ebbline.measure.geodesy import LocalPlane, polyline_m
from ebbline.measure.time.clock import DeviceClock, find_parts
from ebbline.measure.track.fixes import Fixes, prepare
from ebbline.measure.track.track import build
from ebbline.records.evidence import Breadcrumbs
from ebbline.records.setup import Device

PLANE = LocalPlane(48.0, 11.0)


def test_an_accuracy_of_w3c_is_taken_as_a_95_per_cent_radius():
    """W3C Geolocation, coords.accuracy: 'SHOULD correspond to a 95% confidence level' (read).

    A radius of 95 % of a circular normal is sqrt(-2 ln 0.05) = 2.447747 sigmas (chi-square with
    two degrees of freedom, ran).
    """
    unknown = np.full(2, np.nan)
    crumbs = Breadcrumbs(
        device="recorder",
        seq=np.arange(2),
        t_ms=np.array([0, 1000]),
        lat=np.array([48.0, 48.001]),
        lon=np.array([11.0, 11.0]),
        accuracy_m=np.array([2.447747, 10.0]),
        speed_mps=unknown,
        heading_deg=unknown,
        altitude_m=unknown,
        page=np.full(unknown.size, ""),
        mono_ms=np.full(unknown.size, np.nan),
    )
    fixes, _ = prepare(crumbs, DeviceClock(Device("recorder"), find_parts(crumbs)))
    published = np.sqrt(chi2(2).ppf(0.95))
    assert published == pytest.approx(2.447747, abs=1e-6)
    np.testing.assert_allclose(fixes.sigma_m, [1.0, 10 / published], rtol=1e-6)


def test_a_phone_that_hands_on_a_68_per_cent_radius_is_taken_1_62_times_too_sure():
    """Android's own accuracy is a radius of 68 % (wording read-2nd), 1.509592 sigmas (ran)."""
    of_68 = np.sqrt(chi2(2).ppf(0.68))
    assert of_68 == pytest.approx(1.509592, abs=1e-6)
    assert np.sqrt(chi2(2).ppf(0.95)) / of_68 == pytest.approx(1.621462, abs=1e-6)


@pytest.mark.parametrize(
    ("true_m", "sigma_m", "published_m"),
    [
        (20.0, 2.0, 20.201032),
        (20.0, 1.0, 20.050063),
        (10.0, 2.0, 10.409400),
        (5.0, 2.0, 5.886204),
        (50.0, 2.0, 50.080064),
        (0.0, 2.0, 3.544908),
    ],
)
def test_a_leg_between_noisy_fixes_is_too_long_by_rices_mean(true_m, sigma_m, published_m):
    """Independent errors at both ends: a Rice distribution about the true length (ran)."""
    expected_m = rice(true_m / (sigma_m * np.sqrt(2)), scale=sigma_m * np.sqrt(2)).mean()
    assert expected_m == pytest.approx(published_m, abs=1e-5)
    rng = np.random.default_rng(31)
    pairs = 20_000
    lengths = np.empty(pairs)
    ends = sigma_m * rng.normal(size=(2, pairs, 2))
    lat, lon = PLANE.inverse(
        np.concatenate([ends[0, :, 0], true_m + ends[1, :, 0]]),
        np.concatenate([ends[0, :, 1], ends[1, :, 1]]),
    )
    for k in range(pairs):
        lengths[k] = polyline_m(lat[k::pairs], lon[k::pairs])
    standard_error_m = float(np.std(lengths) / np.sqrt(pairs))
    assert np.mean(lengths) == pytest.approx(published_m, abs=3.5 * standard_error_m)


@pytest.mark.parametrize(("rho", "exact_m"), [(0.0, 0.20103), (0.5, 0.10025), (0.9, 0.02001)])
def test_what_neighbouring_fixes_share_lengthens_no_leg(rho, exact_m):
    """About sigma²(1 - rho)/d a leg, d = 20 m, sigma = 2 m (expansion of Rice's mean, ran)."""
    scale_m = 2.0 * np.sqrt(2 * (1 - rho))
    assert rice(20 / scale_m, scale=scale_m).mean() - 20 == pytest.approx(exact_m, abs=1e-5)
    rng = np.random.default_rng(32)
    fixes = 30_000
    error_m = 2.0 * rng.normal(size=(fixes, 2))
    for k in range(1, fixes):
        error_m[k] = rho * error_m[k - 1] + np.sqrt(1 - rho**2) * error_m[k]
    # Sums of 20 m legs, put end to end again and again near the plane's middle.
    along_m = 20.0 * (np.arange(fixes) % 100)
    lat, lon = PLANE.inverse(along_m + error_m[:, 0], error_m[:, 1])
    total_m = sum(polyline_m(lat[k : k + 100], lon[k : k + 100]) for k in range(0, fixes, 100))
    legs = fixes - fixes // 100
    # Along the road the errors telescope over 99 legs; across it they make the excess.
    assert total_m / legs - 20 == pytest.approx(exact_m, abs=0.006)


@pytest.mark.parametrize("with_speeds", [True, False])
def test_our_distance_is_far_nearer_the_truth_than_the_noisy_polyline(with_speeds):
    """A straight road at 10 m/s, sigma 2 m: the polyline is 4.09 % too long (Rice, ran)."""
    rng = np.random.default_rng(33)
    n = 600
    along_m = 10.0 * np.arange(n)
    lat, lon = PLANE.inverse(along_m - 3000 + 2 * rng.normal(size=n), 2 * rng.normal(size=n))
    unknown = np.full(n, np.nan)
    fixes = Fixes(
        device="recorder",
        t_s=1772460000.0 + np.arange(n),
        lat=lat,
        lon=lon,
        sigma_m=np.full(n, 2.0),
        speed_mps=10 + 0.1 * rng.normal(size=n) if with_speeds else unknown,
        heading_deg=np.mod(90 + 0.5 * rng.normal(size=n), 360) if with_speeds else unknown,
    )
    track = build(fixes)
    true_m = float(along_m[-1])
    polyline_off_m = track.polyline_m - true_m
    assert polyline_off_m == pytest.approx((n - 1) * (10.409400 - 10), rel=0.15)
    assert abs(track.along_m[-1] - true_m) < 0.05 * polyline_off_m
