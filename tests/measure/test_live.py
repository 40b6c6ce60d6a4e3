"""Provisional figures: right where it is simple, wide enough where it isn't."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from ebbline.measure.live import past_kwh, past_m, steps_m

T_MS = 1_772_460_000_000


def along_a_meridian(count: int, step_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Fixes northwards by GeographicLib, which the code does not use."""
    fixes = [Geodesic.WGS84.Direct(12.0, -38.0, 0.0, k * step_m) for k in range(count)]
    return np.array([f["lat2"] for f in fixes]), np.array([f["lon2"] for f in fixes])


def test_steady_speed_adds_up_to_speed_times_time() -> None:
    lat, lon = along_a_meridian(11, 999.0)  # positions that would say something else
    t_ms = T_MS + 2000 * np.arange(11)
    steps, sds = steps_m(t_ms, lat, lon, np.full(11, 15.0))
    assert steps == pytest.approx(np.full(10, 30.0))
    assert np.all((sds > 0) & (sds < 1))


def test_without_speeds_the_chord_counts() -> None:
    lat, lon = along_a_meridian(5, 20.0)
    speed = np.array([20.0, np.nan, 20.0, 20.0, 20.0])
    steps, _ = steps_m(T_MS + 1000 * np.arange(5), lat, lon, speed)
    assert steps == pytest.approx(np.full(4, 20.0), abs=1e-6)


def test_over_a_gap_the_chord_counts_and_the_doubt_is_large() -> None:
    lat, lon = along_a_meridian(3, 500.0)
    steps, sds = steps_m(np.array([T_MS, T_MS + 1000, T_MS + 61_000]), lat, lon, np.full(3, 2.0))
    assert steps == pytest.approx([2.0, 500.0], abs=1e-5)
    assert sds[1] == pytest.approx(50.0, abs=1e-5)


def test_equal_stamps_add_nothing_and_one_fix_is_no_way() -> None:
    lat, lon = along_a_meridian(2, 30.0)
    steps, _ = steps_m(np.array([T_MS, T_MS]), lat, lon, np.full(2, np.nan))
    assert steps.tolist() == [0.0]
    assert steps_m(np.array([T_MS]), lat[:1], lon[:1], np.array([3.0]))[0].size == 0


def test_distance_past_zero_is_what_was_driven_since() -> None:
    t_ms = T_MS + 1000 * np.arange(101)
    along_m = 20.0 * np.arange(101)
    found = past_m(t_ms, along_m, 0.005 * along_m, T_MS + 40_500, zero_sd_s=0.4)
    assert found is not None
    assert found.value == pytest.approx(20 * 59.5)
    # 20 m/s times 0.4 s of the tap, and 0.5 % of 1190 m, both at 1.96 sigma
    assert found.high - found.value == pytest.approx(1.96 * np.hypot(8.0, 5.95), rel=0.01)
    assert past_m(t_ms, along_m, along_m, T_MS + 100_001.0, 0.4) is None


def test_energy_past_zero_lies_between_what_the_readings_allow() -> None:
    t_ms = np.array([T_MS, T_MS + 600_000, T_MS + 1_200_000])
    shown = np.array([4.0, 5.0, 6.1])
    found = past_kwh(t_ms, shown - 0.05, shown + 0.05, T_MS + 300_000)
    assert found is not None
    assert found.value == pytest.approx(6.1 - 4.5)
    assert (found.low, found.high) == (
        pytest.approx(6.05 - 5.05),  # all of it had been used before the zero
        pytest.approx(6.15 - 3.95),  # none of it had
    )


@pytest.mark.parametrize("zero_ms", [T_MS - 1, T_MS + 600_001])
def test_without_a_reading_on_both_sides_nothing_is_said(zero_ms: int) -> None:
    t_ms = np.array([T_MS, T_MS + 600_000])
    shown = np.array([4.0, 5.0])
    assert past_kwh(t_ms, shown - 0.05, shown + 0.05, zero_ms) is None
    none = np.empty(0)
    assert past_kwh(np.empty(0, dtype=np.int64), none, none, zero_ms) is None


def test_a_trip_reset_behind_the_zero_leaves_the_doubt_of_what_was_used_before_it() -> None:
    t_ms, shown = np.array([T_MS + 400_000]), np.array([1.0])
    found = past_kwh(t_ms, shown - 0.05, shown + 0.05, T_MS - 40_000, reset_ms=T_MS)
    assert found is not None
    assert found.value == pytest.approx(1.1)
    assert (found.low, found.high) == (pytest.approx(0.95), pytest.approx(1.25))
    assert past_kwh(t_ms, shown, shown, T_MS - 500_000, reset_ms=T_MS) is None
    before = past_kwh(t_ms, shown, shown, T_MS + 100_000, reset_ms=T_MS)
    assert before is not None
    assert before.value == pytest.approx(0.75)
