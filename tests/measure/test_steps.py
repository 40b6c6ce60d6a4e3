"""The way from fix to fix: a quarter circle in one long step, and its slope by differences."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from measure.drive import PLANE, START_S, fixes, oval
from scipy.integrate import quad

from ebbline.measure.laps.gates import crossings_s
from ebbline.measure.track.covariance import scale_sd, shape_covariance, speed_sd
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.kalman_smoother import Smoothed
from ebbline.measure.track.steps import LONG_S, gradients, lengths_m
from ebbline.measure.track.track import build
from ebbline.records.setup import Gate

RADIUS_M, PACE_MPS = 50.0, 15.0


def circle(t_s: np.ndarray) -> Smoothed:
    """Exact states on a circle; matrix and factor aren't asked for."""
    angle = PACE_MPS * t_s / RADIUS_M
    place = RADIUS_M * np.column_stack([1 - np.cos(angle), np.sin(angle)])
    velocity = PACE_MPS * np.column_stack([np.sin(angle), np.cos(angle)])
    nothing = np.empty(0)
    return Smoothed(place, velocity, np.zeros_like(place), nothing, nothing, nothing, nothing, 0.0)


def length_m(t_s: np.ndarray, states: Smoothed) -> float:
    return float(np.sum(lengths_m(t_s, np.hypot(*states.velocity_mps.T), states)))


def test_a_long_step_is_as_long_as_its_cubic():
    """Against the arc length of Hermite's cubic by adaptive quadrature (scipy)."""
    quarter_s = np.pi / 2 * RADIUS_M / PACE_MPS
    t_s = np.array([0.0, quarter_s])
    states = circle(t_s)

    def pace(u: float) -> float:
        chord_mps = (states.position_m[1] - states.position_m[0]) / quarter_s
        return float(
            np.hypot(
                *(
                    6 * u * (1 - u) * chord_mps
                    + (1 - 4 * u + 3 * u**2) * states.velocity_mps[0]
                    + (3 * u**2 - 2 * u) * states.velocity_mps[1]
                )
            )
        )

    assert quarter_s > LONG_S
    assert length_m(t_s, states) == pytest.approx(quarter_s * quad(pace, 0, 1)[0], rel=1e-5)
    assert length_m(t_s, states) == pytest.approx(np.pi / 2 * RADIUS_M, rel=1e-2)


def test_in_a_long_step_the_positions_outweigh_wrong_speeds_at_its_ends():
    t_s = np.array([0.0, 6.0])
    straight = Smoothed(
        np.array([[0.0, 0.0], [90.0, 0.0]]),
        np.array([[10.0, 0.0], [12.0, 0.0]]),
        np.zeros((2, 2)), *(np.empty(0),) * 4, 0.0,
    )  # fmt: skip
    assert length_m(t_s, straight) == pytest.approx(90.0)
    assert length_m(t_s / 3, straight) == pytest.approx(2 * 11.0)  # short: by the speeds


@pytest.mark.parametrize("step_s", [1.0, 6.0])
def test_the_slopes_are_those_of_the_length(step_s):
    t_s = np.array([0.0, step_s])
    states = circle(t_s)
    start, end = gradients(t_s, states)
    small = 1e-5
    for of_end, slopes in enumerate((start[0], end[0])):
        for axis in range(2):
            for state, column in ((0, "position_m"), (1, "velocity_mps")):
                changed = getattr(states, column).copy()
                changed[of_end, axis] += small
                grown_m = length_m(t_s, replace(states, **{column: changed}))
                slope = (grown_m - length_m(t_s, states)) / small
                assert slopes[state, axis] == pytest.approx(slope, abs=2e-4)


@pytest.fixture(scope="module")
def sparse():
    """A fix every nine seconds, exact, without speeds: it stands, gains 1.5 m/s² up to 15 m/s."""
    t_s = np.arange(0.0, 400.0, 9.0)
    gained_s = np.clip(t_s - 60.0, 0.0, 10.0)
    along_m = 1.5 * gained_s**2 / 2 + PACE_MPS * np.maximum(t_s - 70.0, 0.0)
    lat, lon = PLANE.inverse(np.zeros(t_s.size), along_m)
    nothing = np.full(t_s.size, np.nan)
    return build(Fixes("phone", START_S + t_s, lat, lon, np.full(t_s.size, 1.0), nothing, nothing))


def test_a_gate_is_placed_in_a_step_in_which_the_speed_doubles(sparse):
    lat, lon = PLANE.inverse(np.array([0.0]), np.array([25.0]))
    found_s = crossings_s(sparse, Gate(float(lat[0]), float(lon[0]), 0.0, 20.0)) - START_S
    true_s = 60.0 + np.sqrt(2 * 25.0 / 1.5)
    assert found_s == pytest.approx([true_s], abs=0.6)
    at = sparse.position_at(found_s + START_S)
    north_m = sparse.plane.inverse(*at.T)[0]
    assert north_m == pytest.approx(lat, abs=1e-8)  # on the line, by the track's own path


def test_between_distant_fixes_speed_is_less_sure_and_corners_may_be_cut(sparse):
    fix_s = sparse.t_s[np.argmin(np.abs(sparse.t_s - START_S - 200.0))]
    at_fix, between = speed_sd(sparse, np.array([fix_s, fix_s + 4.5]))
    assert between > at_fix
    assert sparse.by_positions
    assert scale_sd(sparse) > 1e-3


def test_corners_at_an_even_pace_leave_the_speed_between_distant_fixes_sure():
    """A car turns harder than it brakes: what the bends take of the acceleration isn't its pace."""
    drive = oval(900.0, step_s=6.0)
    track = build(fixes(drive, seed=4, doppler_mps=None, sigma_m=1.0, drift_s=300.0, white_m=0.2))
    at = track.t_s[10:-10] + 3.0
    sd = speed_sd(track, at)
    off = np.abs(track.speed_at(at) - np.hypot(*drive.velocity_mps[20]))
    assert np.mean(off < 1.96 * sd) > 0.93
    assert np.median(sd) < 1.0  # three by the density of all directions


@pytest.mark.parametrize("turn_deg", [10.0, 30.0, 60.0, 90.0])
def test_how_a_turn_is_spread_over_a_long_step_leaves_its_length_unsure(turn_deg):
    """Against plane geometry: straight, an arc over a share of the way, straight again."""
    turn, way_m = np.radians(turn_deg), 150.0
    shares = np.linspace(0.0, 1.0, 1001)[1:]
    arc_chord = shares * np.sin(turn / 2) / (turn / 2)
    chord = arc_chord + (1 - shares) * np.cos(turn / 2)
    unsure_m = float(np.std(way_m / chord))
    t_s = np.arange(0.0, 80.0, 8.0)
    along_m = way_m * np.arange(t_s.size)
    heading = np.where(t_s >= 40.0, turn, 0.0)
    velocity_mps = way_m / 8.0 * np.column_stack([np.cos(heading), np.sin(heading)])
    straight, turned = (
        shape_covariance(a_track(t_s, along_m, velocities), t_s)
        for velocities in (np.broadcast_to(velocity_mps[0], velocity_mps.shape), velocity_mps)
    )
    more_m2 = np.diag(turned - straight)
    assert more_m2[:5] == pytest.approx(0.0)
    assert np.sqrt(more_m2[5:]) == pytest.approx(unsure_m, rel=0.35)
    assert np.sqrt(more_m2[5]) == pytest.approx(way_m * turn**2 / 12 / np.sqrt(12))


def a_track(t_s, along_m, velocity_mps):
    """What the covariance asks of a track that shows speeds and never stands."""
    never = np.zeros(t_s.size, dtype=bool)
    return SimpleNamespace(
        t_s=t_s, along_m=along_m, velocity_mps=velocity_mps, stopped=never, gap=never[1:],
        long=~never[1:], by_positions=False, along_var_m2=np.zeros(t_s.size),
    )  # fmt: skip
