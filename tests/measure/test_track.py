"""Distance from fixes: closer than the raw polyline, honest about its doubt, still when parked.

The simulated receiver errors follow the model in drive.py (first-order Gauss-Markov plus white
noise, common in the literature; parameters are ours).
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from measure.drive import START_S, Drive, fixes, oval

from ebbline.errors import MeasureError
from ebbline.measure.geodesy import LocalPlane
from ebbline.measure.track.covariance import along_covariance, speed_sd
from ebbline.measure.track.distances import gnss_distances
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.track import Track, build


@pytest.mark.parametrize("doppler_mps", [0.1, None], ids=["doppler", "positions only"])
@pytest.mark.parametrize("step_s", [1.0, 0.2], ids=["1 Hz", "5 Hz"])
def test_distance_is_nearer_the_truth_than_the_polyline(doppler_mps: float | None, step_s: float):
    drive = oval(600, step_s=step_s)
    ours, raw = [], []
    for seed in range(5):
        track = build(fixes(drive, seed=seed, doppler_mps=doppler_mps))
        ours.append(abs(track.along_m[-1] / drive.along_m[-1] - 1))
        raw.append(abs(track.polyline_m / drive.along_m[-1] - 1))
    assert np.median(ours) < np.median(raw)
    assert np.median(ours) < (0.0015 if doppler_mps else 0.005)


@pytest.mark.slow
def test_the_interval_of_a_distance_holds_the_truth():
    drive = oval(500)
    inside = 0
    for seed in range(20):
        track = build(fixes(drive, seed=100 + seed))
        covariance = along_covariance(track, START_S + np.array([100.0, 450.0]))
        sd_m = np.sqrt(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1])
        found_m = np.diff(track.along_at(START_S + np.array([100.0, 450.0])))[0]
        inside += abs(found_m - (drive.along_m[450] - drive.along_m[100])) < 1.96 * sd_m
    assert inside >= 17  # 20 draws at 95 %: 16 or fewer has a chance of 0.3 %


@pytest.mark.parametrize("doppler_mps", [0.05, None])
def test_ten_minutes_parked_add_less_than_five_metres(doppler_mps: float | None):
    parked = oval(600, speed_mps=0.0)
    seen = fixes(parked, seed=4, doppler_mps=doppler_mps)
    track = build(seen)
    assert track.along_m[-1] < 5.0
    assert track.polyline_m > 50.0


def without(seen: Fixes, from_s: float, to_s: float) -> Fixes:
    keep = (seen.t_s < START_S + from_s) | (seen.t_s > START_S + to_s)
    return Fixes(
        seen.device,
        *(getattr(seen, name)[keep] for name in Fixes.__slots__ if name != "device"),
    )


def between(track: Track, from_s: float, to_s: float) -> tuple[float, float]:
    """Distance between two moments and its standard deviation."""
    return gnss_distances(track, START_S + np.array([from_s, to_s])).between(0, 1)


def test_a_gap_widens_the_interval():
    seen = fixes(oval(400), seed=7)
    whole, bridged = build(seen), build(without(seen, 200, 240))
    assert np.count_nonzero(bridged.gap) == 1
    assert between(bridged, 190, 250)[1] > 1.5 * between(whole, 190, 250)[1]


@pytest.mark.slow
@pytest.mark.parametrize("lasting_s", [10.0, 40.0])
@pytest.mark.parametrize("laps", [1, 5], ids=["first lap", "known course"])
def test_a_gap_across_a_bend_is_bridged_within_its_interval(lasting_s: float, laps: int):
    """Straight across would be up to 200 m short here; other laps and both speeds tell better."""
    drive = oval(115 * laps + 40)
    scores = []
    for seed in range(4):
        for start_s in (30.0, 45.0, 60.0):
            seen = without(fixes(drive, seed=seed), start_s, start_s + lasting_s)
            found_m, sd_m = between(build(seen), start_s - 2, start_s + lasting_s + 2)
            scores.append((found_m - 18.0 * (lasting_s + 4)) / sd_m)
    assert np.mean(np.abs(scores) < 1.96) > 0.8
    assert np.max(np.abs(scores)) < 4


def test_one_wild_fix_changes_little():
    seen = fixes(oval(300), seed=2)
    lat = seen.lat.copy()
    lat[150] += 0.002  # about 220 m
    wild = build(replace(seen, lat=lat)).along_m[-1]
    assert wild == pytest.approx(build(seen).along_m[-1], rel=2e-3)


@settings(max_examples=10)
@given(shift_s=st.integers(-(10**8), 10**8), turn_deg=st.floats(0, 360))
def test_shifting_time_and_turning_the_course_change_nothing(shift_s: int, turn_deg: float):
    seen = fixes(oval(120), seed=1)
    plane = LocalPlane(12.0, -38.0)
    east, north = plane.forward(seen.lat, seen.lon)
    turn = np.radians(turn_deg)
    lat, lon = plane.inverse(
        east * np.cos(turn) + north * np.sin(turn), north * np.cos(turn) - east * np.sin(turn)
    )
    moved = replace(
        seen,
        t_s=seen.t_s + shift_s,
        lat=lat,
        lon=lon,
        heading_deg=(seen.heading_deg + turn_deg) % 360,
    )
    assert build(moved).along_m[-1] == pytest.approx(build(seen).along_m[-1], rel=1e-5)


def test_the_speed_of_a_steady_drive_is_found_with_its_doubt():
    track = build(fixes(oval(300), seed=3))
    at = START_S + np.array([100.0, 200.0])
    sd = speed_sd(track, at)
    assert np.all(np.abs(track.speed_at(at) - 18.0) < 3 * sd)
    assert np.all(sd < 0.2)


def test_a_moment_off_the_track_is_unknown_unless_the_car_stood_there_minutes_ago():
    track = build(fixes(oval(120), seed=5))
    assert np.isnan(track.along_at(START_S + np.array([125.0]))[0])  # it drove when the track ended
    parked = build(fixes(oval(60, speed_mps=0.0), seed=5))
    beyond = START_S + np.array([-10.0, 100.0, 300.0, 1500.0])
    placed = parked.along_at(beyond)
    assert placed[2] == parked.along_m[-1]
    assert np.isnan(placed[3])
    found = gnss_distances(parked, np.append(beyond[:3], START_S + 30.0))
    off_m = [found.between(3, k)[1] for k in range(3)]
    assert 0.3 < off_m[0] < off_m[1] < off_m[2] < 10


def test_one_fix_is_no_track():
    seen = fixes(oval(2), seed=1)
    with pytest.raises(MeasureError, match="2 fixes"):
        build(without(seen, 0.5, 10))


@pytest.mark.parametrize(("sigma_m", "drift_s"), [(3.0, 60.0), (5.0, 20.0)])
def test_a_car_parked_among_laps_stands_still_without_speeds_too(sigma_m: float, drift_s: float):
    """Ten minutes' halt after a lap: drift alone would wander hundreds of metres."""
    moving, parked = oval(120), oval(600, speed_mps=0.0)
    halt = replace(
        parked,
        t_s=parked.t_s + 120.0,
        position_m=np.broadcast_to(moving.position_m[-1], parked.position_m.shape),
        along_m=np.full(600, moving.along_m[-1]),
    )
    names = ("t_s", "position_m", "velocity_mps", "along_m")
    whole = Drive(*(np.concatenate([getattr(moving, n), getattr(halt, n)]) for n in names))
    for seed in range(3):
        seen = fixes(whole, seed=seed, sigma_m=sigma_m, drift_s=drift_s, doppler_mps=None)
        track = build(seen)
        parked_m = track.along_at(START_S + np.array([150.0, 719.0]))
        assert np.diff(parked_m)[0] < 5.0
