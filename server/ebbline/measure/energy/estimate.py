"""From the run's readings to its energy curve: bounds, expectation, contradictions, fit."""

from __future__ import annotations

import math

import numpy as np

from ebbline.measure.energy.bounds import energy_bounds, settle_contradictions
from ebbline.measure.energy.curve import EnergyCurve, fit_energy
from ebbline.measure.energy.expected import Supply, expected_energy, unseen_kinetic_kwh
from ebbline.measure.energy.odd_readings import Progress, odd_readings
from ebbline.measure.motion.motion import Motion
from ebbline.measure.time.moments import Events, TimedReading
from ebbline.measure.trip_meter.comparison import TripMeter
from ebbline.records.result import Finding
from ebbline.records.setup import Vehicle


def energy_of(
    motion: Motion | None,
    meter: TripMeter,
    vehicle: Vehicle,
    events: Events,
    readings: list[TimedReading],
) -> tuple[EnergyCurve | None, list[Finding]]:
    """The energy curve that the readings bound; None where there is no drive or no reading."""
    if motion is None:
        return None, []

    def car_distance_m(from_s: float, to_s: float) -> tuple[float, float]:
        ours_m, sd_m = motion.distances(np.array([from_s, to_s])).between(0, 1)
        if motion.track is None:
            return ours_m, sd_m  # the meter's own, its scale among the uncertainties already
        return ours_m * meter.ratio, float(np.hypot(sd_m, ours_m * meter.sd))

    resets = [timed.moment for timed in events.of("trip_reset")]
    evidence = energy_bounds(readings, resets, float(motion.t_s[0]), car_distance_m)
    expected = expected_energy(motion, vehicle.road_load, _supply(events), evidence.marks_s())
    evidence, findings = settle_contradictions(evidence, expected.range_kwh)
    kinetic_kwh = unseen_kinetic_kwh(motion, vehicle.road_load, vehicle.mass_kg)
    on_lines = (
        (expected.t_s, expected.work_kwh),
        (expected.t_s, expected.walk_var_kwh2),
        *((motion.t_s, each) for each in kinetic_kwh),
    )
    findings += odd_readings(
        evidence,
        lambda t_s: Progress(*(float(np.interp(t_s, *on_line)) for on_line in on_lines)),
    )
    curve = fit_energy(motion, evidence, expected, vehicle.road_load)
    if curve is None:
        return None, [*findings, _no_readings()]
    return curve, findings + _beyond_readings(curve, events)


def _supply(events: Events) -> Supply:
    """Propulsion ends where noted last; auxiliaries with the contactors, else at standstill; all of
    them where comfort was first cut.
    """
    cut = events.of("comfort_cut")
    comfort_s = cut[0].moment.t_s if cut else math.inf
    off = events.last("propulsion_off")
    if off is None:
        return Supply(comfort_until_s=comfort_s)
    idle = events.last("contactors_open") or events.last("standstill")
    idle_s = idle.moment.t_s if idle else math.inf
    return Supply(off.moment.t_s, max(off.moment.t_s, idle_s), comfort_s)


def _no_readings() -> Finding:
    return Finding(
        "note",
        "no_energy_readings",
        "No reading of trip energy bounds the energy used, so it isn't given.",
        "readings",
    )


def _beyond_readings(curve: EnergyCurve, events: Events) -> list[Finding]:
    """Say how many events lie where no reading bounds the energy on one side."""
    moments = [timed.moment for timed in events if timed.event.kind not in ("plug_in", "note")]
    on_run = [m for m in moments if m.t_s <= curve.motion.t_s[-1]]
    early = sum(m.t_s < curve.first_reading_s for m in on_run)
    late = sum(
        m.t_s > curve.last_reading_s and float(curve.power_kw(np.array([m.t_s]))[0]) > 0
        for m in on_run
    )
    told = [
        f"{count} {'event lies' if count == 1 else 'events lie'} {where}"
        for count, where in (
            (early, "before the first energy reading"),
            (late, "after the last energy reading"),
        )
        if count
    ]
    if not told:
        return []
    return [
        Finding(
            "note",
            "energy_extrapolated",
            f"{' and '.join(told)}; energy there is extrapolated and its interval grows.",
            "readings of trip_energy",
        )
    ]
