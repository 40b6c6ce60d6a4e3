"""Shown speeds held against positions: Doppler speeds pass, a phone's fused ones are found out."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.measure.track.shown_speeds import believable, speed_ratio

DRIVE = oval(1200)


def off_by(share: float, seed: int = 5):
    seen = fixes(DRIVE, seed=seed)
    return replace(seen, speed_mps=seen.speed_mps * (1 + share))


@pytest.mark.parametrize("seed", range(4))
def test_doppler_speeds_agree_with_the_positions(seed: int):
    found = speed_ratio(fixes(DRIVE, seed=seed))
    assert found is not None
    assert found.agrees
    assert abs(found.ratio - 1) < 4 * found.sd + 1e-3


@pytest.mark.parametrize("share", [-0.05, -0.02, 0.03, 0.07])
def test_a_ratio_is_found_as_it_was_made(share: float):
    found = speed_ratio(off_by(share))
    assert found is not None
    assert not found.agrees
    assert found.ratio == pytest.approx(1 + share, abs=4 * found.sd)


def test_fused_speeds_are_not_used_and_the_distance_holds_the_truth():
    result = analyze(session(off_by(0.05))).result
    assert {f.code for f in result.findings} >= {"speeds_disagree"}
    assert "Doppler" not in result.distance.method
    total = result.distance.total_m
    assert total is not None
    assert total.low < DRIVE.along_m[-1] < total.high


def test_speeds_that_wander_about_the_truth_are_found_too():
    """Right on the whole, 3 % off for minutes at a time."""
    seen = fixes(DRIVE, seed=6)
    wave = 1 + 0.03 * np.sign(np.sin(2 * np.pi * DRIVE.t_s / 480))
    found = speed_ratio(replace(seen, speed_mps=seen.speed_mps * wave))
    assert found is not None
    assert not found.agrees


@pytest.mark.parametrize("seed", range(4))
def test_a_small_wandering_shows_in_that_it_lasts(seed: int):
    """1 % off for minutes at a time, no more than what positions make of a minute by chance."""
    seen = fixes(DRIVE, seed=seed, sigma_m=1.5)
    wave = 1 + 0.01 * np.sign(np.sin(2 * np.pi * DRIVE.t_s / 480))
    found = speed_ratio(replace(seen, speed_mps=seen.speed_mps * wave))
    assert found is not None
    assert found.local_sd < 0.012
    assert found.wander > 4
    assert not found.agrees


def test_outliers_among_the_positions_do_not_make_speeds_unbelievable():
    seen = fixes(DRIVE, seed=7)
    lat = seen.lat.copy()
    lat[::97] += 0.001  # 110 m
    found = speed_ratio(replace(seen, lat=lat))
    assert found is not None
    assert found.agrees


def test_a_short_drive_or_one_without_speeds_tells_nothing():
    assert speed_ratio(fixes(oval(240), seed=8)) is None
    without = fixes(DRIVE, seed=9, doppler_mps=None)
    assert speed_ratio(without) is None
    assert believable(without) == (without, [])
