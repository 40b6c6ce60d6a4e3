"""Positions no car can have driven give a result with its doubts, never a failure."""

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from measure.drive import START_S, fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.track import build
from ebbline.records.evidence import Event
from ebbline.records.result import Result


def seen(
    t_s: np.ndarray, lat: object, lon: object, *, speed_mps: float | None, sigma_m: float
) -> Fixes:
    """Fixes at given places; with a speed they all show it, heading north."""
    whole = np.ones(t_s.size)
    shown = np.nan if speed_mps is None else 1.0
    return Fixes(
        "phone",
        START_S + t_s,
        lat * whole,
        lon * whole,
        sigma_m=sigma_m * whole,
        speed_mps=(speed_mps or 0.0) * shown * whole,
        heading_deg=0.0 * shown * whole,
    )


def result_of(positions: Fixes) -> Result:
    """The analysis, asked about events at the middle and at the end."""
    middle, end = (round(at * 1000) for at in positions.t_s[[positions.t_s.size // 2, -1]])
    events = (Event("z", "phone", middle, "zero_soc"), Event("e", "phone", end, "propulsion_off"))
    return analyze(session(positions, events=events)).result


ELSEWHERE = [(47.0, 8.0), (-12.0, 142.0), (90.0, 0.0), (0.0, 52.0), (13.0, -38.0), (12.01, -38.0)]


@pytest.mark.slow
@settings(max_examples=60)
@given(
    n=st.sampled_from([2, 3, 31, 100]),
    pattern=st.sampled_from(["alternating", "one after the other", "one fix"]),
    elsewhere=st.sampled_from(ELSEWHERE),
    steps_s=st.lists(
        st.sampled_from([0.001, 0.01, 1.0, 60.0, 86400.0, 3.2e7]), min_size=1, max_size=5
    ),
    speed_mps=st.sampled_from([None, 0.0, 15.0]),
    sigma_m=st.sampled_from([np.nan, 0.0, 1e-4, 3.0, 1e6]),
)
@example(100, "one after the other", (0.0, 52.0), [0.001], 0.0, 0.0)  # rounding alone went below 0
@example(100, "one after the other", (-12.0, 142.0), [0.001, 0.01, 0.001, 0.001], 0.0, 0.0)
def test_fixes_half_the_globe_apart_still_give_a_result(
    n: int,
    pattern: str,
    elsewhere: tuple[float, float],
    steps_s: list[float],
    speed_mps: float | None,
    sigma_m: float,
):
    k = np.arange(n)
    away = {
        "alternating": k % 2 == 1,
        "one after the other": k >= n // 2,
        "one fix": k == n // 2,
    }[pattern]
    t_s = np.concatenate([[0.0], np.cumsum(np.resize(steps_s, n - 1))])
    found = result_of(
        seen(
            t_s,
            np.where(away, elsewhere[0], 12.0),
            np.where(away, elsewhere[1], -38.0),
            speed_mps=speed_mps,
            sigma_m=sigma_m,
        )
    )
    assert found.distance.total_m is not None


@pytest.mark.parametrize("pattern", ["alternating", "one after the other"])
@pytest.mark.parametrize("speed_mps", [None, 15.0])
def test_a_long_session_on_two_continents_still_gives_a_result(
    pattern: str, speed_mps: float | None
):
    k = np.arange(1500)
    away = k % 2 == 1 if pattern == "alternating" else k >= 750
    found = result_of(
        seen(
            k * 1.0,
            np.where(away, 47.0, 12.0),
            np.where(away, 8.0, -38.0),
            speed_mps=speed_mps,
            sigma_m=3.0,
        )
    )
    assert found.distance.total_m is not None


@pytest.mark.parametrize("step_deg", [0.0, 1e-7])
@pytest.mark.parametrize("step_s", [0.001, 1.0, 864000.0])
def test_a_car_that_hardly_moves_still_gives_a_result(step_deg: float, step_s: float):
    k = np.arange(100)
    found = result_of(seen(k * step_s, 12.0 + step_deg * k, -38.0, speed_mps=None, sigma_m=3.0))
    assert found.distance.total_m is not None
    assert found.distance.total_m.value < 20.0


def test_a_course_across_the_meridian_of_180_degrees_is_as_long_as_any():
    here = fixes(oval(300), seed=6)
    across = replace(here, lon=(here.lon + 38.0 + 180.0 + 180.0) % 360 - 180.0)
    assert np.ptp(across.lon) > 359
    assert build(across).along_m[-1] == pytest.approx(build(here).along_m[-1], rel=1e-6)


def test_a_drive_between_years_of_nothing_takes_no_more_memory_than_its_fixes():
    """Laps of 20 s, and three years in the middle of one: five million laps would fit in."""
    t_s = np.cumsum(np.where(np.arange(200) == 160, 1e8, 1.0))
    angle = 2 * np.pi * np.arange(200) / 20
    lat, lon = 12.0 + 1e-3 * np.sin(angle), -38.0 + 1e-3 * np.cos(angle)
    level = seen(t_s, lat, lon, speed_mps=35.0, sigma_m=3.0)
    positions = replace(level, heading_deg=np.degrees(-angle) % 360)
    tracemalloc.start()
    try:
        build(positions)
        assert tracemalloc.get_traced_memory()[1] < 200e6
    finally:
        tracemalloc.stop()
