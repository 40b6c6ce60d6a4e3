"""Standstill where no speed is shown: drift is no driving, and slow progress is no rest."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import Drive, fixes, oval

from ebbline.measure.track.track import build


def walked(speed_mps: float, duration_s: float = 600.0) -> Drive:
    """To and fro along a path of 60 m, slowly, without ever standing."""
    t_s = np.arange(0.0, duration_s)
    along_m = speed_mps * t_s
    fold = np.abs((along_m + 60) % 120 - 60)
    east = np.column_stack([fold, 0.3 * along_m])
    velocity = np.gradient(east, t_s, axis=0)
    way_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(east, axis=0).T))])
    return Drive(t_s, east, velocity, way_m)


def parked(minutes: float) -> Drive:
    n = round(60 * minutes)
    nowhere = np.zeros((n, 2))
    return Drive(np.arange(float(n)), nowhere, nowhere, np.zeros(n))


@pytest.mark.parametrize("seed", range(3))
def test_slow_progress_is_no_rest(seed: int):
    drive = walked(1.6)
    track = build(fixes(drive, seed=seed, sigma_m=2.0, doppler_mps=None))
    assert np.mean(track.stopped) < 0.05
    assert track.along_m[-1] == pytest.approx(drive.along_m[-1], rel=0.08)


@pytest.mark.parametrize("claimed", [0.3, 1.0, 3.0])
def test_a_parked_car_stands_whatever_its_receiver_claims(claimed: float):
    """Ten minutes of drift of 3 m; the receiver says a third, the truth, or three times it."""
    seen = fixes(parked(10), seed=11, doppler_mps=None)
    track = build(replace(seen, sigma_m=claimed * seen.sigma_m))
    assert track.along_m[-1] < 10
    assert track.claimed_m >= 1.5  # what the rest shows counts, not what is claimed


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_between_houses_a_car_that_parks_stands(seed: int):
    """Twenty minutes of drift of 11 m that lasts 12 s, which leaves any place now and then."""
    driven, n = oval(300), 1200
    drive = Drive(
        np.arange(300.0 + n),
        np.vstack([driven.position_m, np.repeat(driven.position_m[-1:], n, axis=0)]),
        np.vstack([driven.velocity_mps, np.zeros((n, 2))]),
        np.concatenate([driven.along_m, np.repeat(driven.along_m[-1:], n)]),
    )
    seen = fixes(drive, seed=seed, sigma_m=11.0, drift_s=12.0, doppler_mps=None)
    track = build(replace(seen, sigma_m=np.full(seen.t_s.size, np.nan)))
    assert track.along_m[-1] - track.along_m[320] < 1  # a polyline makes some 6 km of it
    assert track.along_m[320] == pytest.approx(driven.along_m[-1], rel=0.05)
    assert track.claimed_m > 6


def test_a_drive_between_two_rests_stays_a_drive():
    drive = oval(300)
    track = build(fixes(drive, seed=12, doppler_mps=None))
    assert track.along_m[-1] == pytest.approx(drive.along_m[-1], rel=0.01)
