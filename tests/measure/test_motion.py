"""A run without positions, and one that they hold a part of: by the car's own trip meter.

The drive is that of ``measure.drive``: 18 m/s after a start over 12 s, so 18 (t - 6) metres after t
seconds. The meter counts what the ground has times its scale; its display cuts to 0.1 km.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from measure.drive import START_S, fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.records.evidence import Event, Reading
from ebbline.records.result import Quantity
from ebbline.records.setup import Delay, Protocol

DRIVE = oval(1000.0)
DELAY = Delay(0.0, 0.4)
TAPS = (("zero_soc", 190), ("trip_reset", 200), ("warning", 500), ("propulsion_off", 900))
SCALE = 1.01


def events(*taps: tuple) -> tuple[Event, ...]:
    return tuple(
        Event(f"{kind}-{at_s}", "phone", round(1000 * (START_S + at_s)), kind, text=text)
        for kind, at_s, *said in taps
        for text in (said[0] if said else None,)
    )


def trip(at_s: float, since_s: float = 200.0, before_km: float = 0.0, **parts) -> Reading:
    """What the display shows of the trip's distance, cut to 0.1 km."""
    true_km = SCALE * 18 * (at_s - since_s) / 1000 + before_km
    name = f"trip-{at_s}"
    shown = math.floor(true_km * 10) / 10
    return replace(
        Reading(name, "film", round(1000 * (START_S + at_s)), "trip_distance", shown, "km", 0.1),
        rounding="down",
        **parts,
    )


def energy(at_s: float) -> Reading:
    """0.15 kWh a kilometre since the reset, to the nearest tenth."""
    kwh = round(0.15 * 18 * (at_s - 200) / 1000, 1)
    name = f"energy-{at_s}"
    return Reading(name, "film", round(1000 * (START_S + at_s)), "trip_energy", kwh, "kWh", 0.1)


def found(readings, taps=TAPS, seen=None):
    evidence = session(
        fixes(DRIVE, seed=7) if seen is None else seen,
        events=events(*taps),
        readings=tuple(readings),
        protocol=Protocol(tap_delay=DELAY),
    )
    if seen is None:
        evidence = replace(evidence, breadcrumbs=())
    result = analyze(evidence)
    return result.result, {finding.code for finding in result.result.findings}, result.curves


def holds(figure: Quantity | None, truth: float) -> bool:
    return figure is not None and figure.low <= truth <= figure.high


def width(figure: Quantity) -> float:
    return figure.high - figure.low


def test_one_pair_of_readings_and_a_reset_say_nearly_all():
    """By hand: 710 s at 18 m/s from 0 % to the end, 180 m of it before the reset."""
    result, codes, _ = found([trip(895), energy(896)])
    reserve = result.reserve
    assert reserve.basis == "trip_meter"
    assert holds(reserve.distance_m, 710 * 18)
    assert reserve.distance_m.high - reserve.distance_m.low < 0.08 * 710 * 18
    assert holds(reserve.energy_kwh, 0.15 * 710 * 18 / 1000)
    assert holds(result.shown.reset_after_zero_m, 180)
    assert "distance_by_trip_meter" in codes
    assert "no_track" not in codes


def test_the_meters_unknown_scale_is_in_the_interval():
    """1.5 % (1-sigma) of 12.6 km, 370 m at 95 %, whatever the display's steps."""
    many, _, _ = found([trip(at_s) for at_s in range(220, 900, 20)])
    distance = many.reserve.distance_m
    assert (distance.high - distance.low) / 2 == pytest.approx(0.015 * 1.96 * 710 * 18, rel=0.2)


def test_the_ladder_places_events_between_readings():
    result, _, _ = found([trip(at_s) for at_s in range(260, 900, 60)])
    warning = next(entry for entry in result.timeline if entry.kind == "warning")
    assert holds(warning.past_zero_m, 310 * 18)
    assert holds(warning.left_m, 400 * 18)
    assert warning.speed_mps is None


def test_without_a_reset_differences_of_readings_count():
    """The meter ran before: 48.3 km when it is first read."""
    taps = tuple(each for each in TAPS if each[0] != "trip_reset")
    readings = [trip(at_s, before_km=48.3) for at_s in (185, 500, 898)]
    result, _, _ = found(readings, taps)
    assert holds(result.reserve.distance_m, 710 * 18)
    assert result.reserve.distance_m.high - result.reserve.distance_m.low < 0.1 * 710 * 18


def test_nothing_is_driven_after_the_car_stood():
    """It rolls 270 m in 30 s after the shut-off; the reading is made when it stands."""
    taps = (*TAPS, ("standstill", 930), ("contactors_open", 960))
    readings = [*(trip(at_s) for at_s in (300, 600)), trip(900 + 15, since_s=200)]
    readings[-1] = replace(readings[-1], t_ms=round(1000 * (START_S + 950)))
    result, _, _ = found(readings, taps)
    assert holds(result.reserve.distance_m, 710 * 18)
    opened, still = (
        next(entry for entry in result.timeline if entry.kind == kind)
        for kind in ("contactors_open", "standstill")
    )
    assert opened.past_zero_m.value == pytest.approx(still.past_zero_m.value, abs=20)


@pytest.mark.parametrize(("from_s", "to_s"), [(0, 600), (400, 1000), (300, 700)])
def test_positions_for_a_part_of_the_run_are_joined_with_the_meter(from_s, to_s):
    seen = fixes(DRIVE, seed=7)
    kept = (seen.t_s - START_S >= from_s) & (seen.t_s - START_S < to_s)
    part = replace(
        seen,
        **{
            name: getattr(seen, name)[kept]
            for name in ("t_s", "lat", "lon", "sigma_m", "speed_mps", "heading_deg")
        },
    )
    readings = [trip(at_s) for at_s in range(260, 900, 60)]
    joined, codes, curves = found(readings, seen=part)
    alone, _, _ = found(readings)
    assert joined.reserve.basis == "both"
    assert "distance_joined" in codes
    assert holds(joined.reserve.distance_m, 710 * 18)
    widths = [
        each.reserve.distance_m.high - each.reserve.distance_m.low for each in (joined, alone)
    ]
    assert widths[0] < widths[1]
    assert np.isnan(curves.lat).any()
    assert np.isfinite(curves.lat).any()
    assert np.isfinite(curves.past_zero_m.value).all()


def test_positions_that_hold_it_all_are_used_alone():
    result, codes, _ = found(
        [trip(at_s) for at_s in range(260, 900, 60)], seen=fixes(DRIVE, seed=7)
    )
    assert result.reserve.basis == "positions"
    assert not codes & {"distance_joined", "distance_by_trip_meter"}


def test_readings_that_cannot_both_be_right_are_named_and_count_for_less():
    good = [trip(at_s) for at_s in (300, 500, 700, 895)]
    wrong = replace(good[1], value=good[1].value + 40.0)
    result, codes, _ = found([good[0], wrong, *good[2:]])
    assert "trip_readings_contradict" in codes
    assert holds(result.reserve.distance_m, 710 * 18)


def test_taps_alone_tell_no_distance():
    result, codes, _ = found([])
    assert result.reserve.distance_m is None
    assert result.distance.total_m is None
    assert "no_track" in codes
