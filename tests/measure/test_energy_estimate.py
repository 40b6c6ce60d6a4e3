"""From readings to the energy curve, and what is said where none bound it: 18 m/s, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from measure.drive import fixes, on_a_straight
from measure.moments import at, noted, taps

from ebbline.measure.energy.estimate import energy_of
from ebbline.measure.motion.motion import Motion
from ebbline.measure.track.track import build
from ebbline.measure.trip_meter.comparison import TripMeter
from ebbline.records.setup import Vehicle

RESET = ("trip_reset", 20.0)


@pytest.fixture(scope="module")
def motion() -> Motion:
    """Ten minutes at a steady 18 m/s."""
    speed = np.concatenate([np.linspace(0, 18, 13), np.full(590, 18.0)])
    return Motion.by_positions(build(fixes(on_a_straight(speed), seed=8)))


def estimate(motion: Motion | None, *each, shown: tuple[tuple[float, float], ...] = ()):
    readings = [noted("trip_energy", at_s, kwh, "kWh") for at_s, kwh in shown]
    curve, findings = energy_of(motion, TripMeter(), Vehicle(), taps(RESET, *each), readings)
    return curve, {finding.code: finding.message for finding in findings}


def test_without_a_drive_there_is_no_energy_and_without_readings_it_is_said(motion: Motion):
    assert estimate(None, shown=((100, 1.0),)) == (None, {})
    curve, said = estimate(motion)
    assert (curve, set(said)) == (None, {"no_energy_readings"})


def test_between_two_readings_energy_is_what_both_roundings_allow(motion: Motion):
    """0.3 kWh at 120 s and 1.3 at 520 s: 1.0 ± 0.1 between; a third of the way has a third."""
    curve, _ = estimate(motion, shown=((120, 0.3), (520, 1.3)))
    mean, sd = curve.between(at(120, 0.0), [at(520, 0.0), at(120 + 400 / 3, 0.0)])
    assert mean[0] == pytest.approx(1.0, abs=0.03)
    assert 1.96 * sd[0] < 0.1
    assert mean[1] == pytest.approx(1 / 3, abs=0.03)


def test_events_outside_the_readings_are_counted(motion: Motion):
    """The reset and zero lie before the first reading; of those after it two are of the drive."""
    each = (("zero_soc", 60.0), ("warning", 200.0), ("hazards_on", 450.0), ("comfort_cut", 500.0))
    shown = ((120, 0.3), (420, 1.0))
    _, said = estimate(motion, *each, ("note", 550.0), shown=shown)
    assert said["energy_extrapolated"].startswith(
        "2 events lie before the first energy reading and 2 events lie after the last"
    )
    _, within = estimate(motion, ("warning", 200.0), shown=((10, 0.0), (420, 1.0)))
    assert "energy_extrapolated" not in within


def test_nothing_but_auxiliaries_draws_once_propulsion_is_off(motion: Motion):
    """By hand: power before the shut-off is some 1 kWh in 400 s, 9 kW; afterwards a fraction."""
    shown = ((120, 0.3), (420, 1.05))
    curve, _ = estimate(motion, ("propulsion_off", 430.0), ("standstill", 590.0), shown=shown)
    before, after = curve.power_kw(np.array([at(400).t_s, at(500).t_s]))
    assert before == pytest.approx(9, rel=0.15)
    assert after < before / 4
