"""Gate crossings and the lap check, on a course of exactly 2000 m."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import PLANE, START_S, fixes, oval
from scipy.ndimage import gaussian_filter1d

from ebbline.measure.laps.gates import crossings_s
from ebbline.measure.laps.laps import check_laps, disagreement, find_laps, ruler_of
from ebbline.measure.laps.ruler import distances_at
from ebbline.measure.track.covariance import crossing_covariance
from ebbline.measure.track.track import build
from ebbline.records.setup import CheckedLap, Course, Gate

LAPS_S = 2000.0 / 18.0  # at 18 m/s
PASSES_S = 6.0 + np.arange(1, 6) * LAPS_S + 300 / 18.0  # 300 m up the first straight


def gate(heading_deg: float = 0.0) -> Gate:
    lat, lon = PLANE.inverse(np.array([0.0]), np.array([300.0]))
    return Gate(float(lat[0]), float(lon[0]), heading_deg, 20.0)


@pytest.fixture(scope="module")
def track():
    return build(fixes(oval(650), seed=11, sigma_m=1.5))


def test_crossings_are_placed_between_fixes(track):
    found_s = crossings_s(track, gate()) - START_S
    assert found_s.size == 6
    # A drift of 1.5 m at 18 m/s is 0.08 s; the fixes are 1 s apart.
    assert np.max(np.abs(found_s[1:] - PASSES_S)) < 0.35


@pytest.mark.parametrize("seed", range(3))
def test_crossings_are_as_unsure_as_positions_stray_from_the_speeds(seed):
    """A filtered error of 3 m, smooth from second to second: the fit takes it for driving."""
    seen = fixes(oval(1300), seed=seed, sigma_m=0.0, white_m=0.02, doppler_mps=0.06)
    rough = np.random.default_rng(seed).standard_normal((2, seen.t_s.size))
    smooth_m = gaussian_filter1d(rough, 30.0, axis=1)
    smooth_m *= 3.0 / np.std(smooth_m, axis=1, keepdims=True)
    lat, lon = PLANE.inverse(*(PLANE.forward(seen.lat, seen.lon) + smooth_m))
    track = build(replace(seen, lat=lat, lon=lon))
    assert track.model.drift_m < 1.5  # what the fit makes of it
    gate_s = crossings_s(track, gate())
    off_m = np.diff(gate_s - START_S - 6.0) * 18.0 - 2000.0
    covariance = crossing_covariance(track, gate_s)
    sd_m = np.sqrt(2 * covariance[0, 0] - 2 * covariance[0, 1])
    assert np.sqrt(np.mean(off_m[1:] ** 2)) < 1.6 * sd_m
    assert 2.0 < sd_m < 8.0


def test_a_course_driven_the_other_way_has_its_laps_too(track):
    assert np.allclose(crossings_s(track, gate(180.0)), crossings_s(track, gate(0.0)))


def test_a_gate_on_the_other_straight_is_not_crossed_on_this_one(track):
    far = Gate(*(float(v[0]) for v in PLANE.inverse(np.array([800.0]), np.array([300.0]))), 0, 20)
    assert crossings_s(track, far).size == 0


def test_an_unknown_gate_is_found_from_the_data(track):
    laps, findings = find_laps(track, Course(closed=True))
    assert laps is not None
    length_m = np.diff(laps.distances.along_m)
    assert length_m == pytest.approx(2000.0, abs=12)
    assert [finding.code for finding in findings] == ["gate_found"]


def test_an_open_road_has_no_laps(track):
    assert find_laps(track, Course(closed=False)) == (None, [])


def test_the_lap_agrees_with_its_survey(track):
    course = Course(surveyed_lap_m=2000.0, surveyed_lap_sd_m=0.5, gate=gate())
    laps, _ = find_laps(track, course)
    check = check_laps(laps, course)
    assert check is not None
    assert check.agrees
    assert check.measured_m.low < 2000.0 < check.measured_m.high
    assert check.measured_m.high - check.measured_m.low < 10  # under 0.5 % from five laps
    assert disagreement(check) == []


def test_a_wrong_survey_is_told_and_not_followed(track):
    course = Course(surveyed_lap_m=2040.0, surveyed_lap_sd_m=0.5, gate=gate())
    laps, _ = find_laps(track, course)
    check = check_laps(laps, course)
    assert check is not None
    assert not check.agrees
    assert ruler_of(laps, course) is None
    (finding,) = disagreement(check)
    assert finding.code == "lap_check_disagrees"
    assert "2040.0 m" in finding.message


def test_a_lap_through_the_pits_is_left_out_of_the_check(track):
    course = Course(surveyed_lap_m=1900.0, gate=gate())
    laps, findings = find_laps(track, course)
    assert laps is not None
    assert laps.plain.size == 0
    assert {finding.code for finding in findings} == {"odd_lap"}
    assert check_laps(laps, course) is None


def test_surveyed_laps_as_ruler_pull_a_receiver_that_reads_long_towards_the_truth():
    """A scale error of 0.08 %, as a receiver with a biased Doppler would make."""
    drive = oval(650)
    seen = fixes(drive, seed=3, sigma_m=1.0)
    seen.speed_mps[:] *= 1.0008
    track = build(seen)
    course = Course(surveyed_lap_m=2000.0, surveyed_lap_sd_m=0.1, gate=gate())
    laps, _ = find_laps(track, course)
    ruler = ruler_of(laps, course)
    assert ruler is not None
    at = START_S + np.array([50.0, 600.0])
    true_m = drive.along_m[600] - drive.along_m[50]
    free = distances_at(track, at, None)
    ruled = distances_at(track, at, ruler)
    assert abs(np.diff(ruled.along_m)[0] - true_m) < abs(np.diff(free.along_m)[0] - true_m)
    assert ruled.between(0, 1)[1] < free.between(0, 1)[1]


def test_a_lap_checked_earlier_is_the_ruler_where_there_is_no_survey(track):
    checked = Course(checked_lap=CheckedLap(2000.5, 1.0), gate=gate())
    laps, _ = find_laps(track, checked)
    ruler = ruler_of(laps, checked)
    assert ruler is not None
    assert (ruler.lap_m, ruler.source) == (2000.5, "checked")
    assert check_laps(laps, checked) is None  # it is no survey to be checked against
    surveyed = Course(surveyed_lap_m=2000.0, checked_lap=CheckedLap(2000.5, 1.0), gate=gate())
    assert ruler_of(laps, surveyed).lap_m == 2000.0


def test_a_checked_lap_that_this_track_contradicts_is_not_used(track):
    wrong = Course(checked_lap=CheckedLap(2050.0, 1.0), gate=gate())
    laps, _ = find_laps(track, wrong)
    assert ruler_of(laps, wrong) is None


def test_days_of_laps_are_ruled_by_two_hundred_of_them():
    """300 laps, each 2000 m: more laps would only repeat the survey's own doubt."""
    long_run = build(fixes(oval(300 * LAPS_S), seed=3))
    surveyed = Course(surveyed_lap_m=2000.0, surveyed_lap_sd_m=0.5, closed=True, gate=gate())
    laps, _ = find_laps(long_run, surveyed)
    ruler = ruler_of(laps, surveyed)
    assert laps.plain.size > 290
    assert ruler.lap_of.shape == (200, 2)
    assert ruler.gate_s[ruler.lap_of[0, 0]] == laps.gate_s[laps.plain[0]]
    assert ruler.gate_s[ruler.lap_of[-1, 1]] == laps.gate_s[laps.plain[-1] + 1]
    assert np.all(np.diff(ruler.gate_s[ruler.lap_of], axis=1) < 1.1 * LAPS_S)
    first, last = laps.gate_s[[1, -1]]
    ruled_m, sd_m = distances_at(long_run, np.array([first, last]), ruler).between(0, 1)
    assert abs(ruled_m - 2000.0 * (laps.gate_s.size - 2)) < 2.5 * sd_m
