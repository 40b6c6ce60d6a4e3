"""The invented sessions that a phone recorded: what happened in each, and what was noted of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from sample import Sample
from simulator import setup
from simulator.display import Display
from simulator.drive import Happening, Plan, drive
from simulator.invented import CAR_A, SEED, TRUE_LAP_M, course_one, falling_steps
from simulator.receiver import Receiver, receive
from simulator.recharge import ChargePlan, recharge
from simulator.recorder import Clock, Notebook, Passenger, breadcrumbs
from simulator.truth import World, truth_document


def full_run(seed: int = SEED) -> Sample:
    """Driven to the very end and charged again; everything noted."""
    rng = np.random.default_rng([seed, 1])
    course, start_ms = course_one(), 1_772_443_800_000  # 2026-03-02T09:30Z
    fades, floored = falling_steps(0.06, 0.42, 0.56, 0.67)
    car = replace(CAR_A, fades=fades)
    driven = drive(course, car, Plan(floored=floored), rng)
    charge = recharge(car, driven, ChargePlan(), rng)
    zero_s, off_s = driven.moment_of("zero_soc"), driven.moment_of("propulsion_off")
    reset_s = zero_s + 9.0
    world = World(course, car, driven, start_ms, charge, reset_s)
    receiver = Receiver(wandering_m=2.2, time_constant_s=80.0, white_m=0.3)
    clock = Clock(start_ms, offset_ms=-240.0)
    fixes = receive(course, driven, charge.plug_in_s + 90.0, receiver, rng)
    display = Display(car, driven, charge, reset_s)
    notes = Notebook("full-run", display, {"phone-1": clock}, Passenger(), rng)
    happenings = [
        *driven.happenings,
        Happening("trip_reset", reset_s),
        Happening("hazards_on", off_s + 3.5),
        *charge.happenings,
    ]
    for happening in sorted(happenings, key=lambda happening: happening.t_s):
        notes.tap(happening)
    _read_the_drive(notes, driven.t_s[0] + 20.0, zero_s, off_s, reset_s)
    for t_s in np.linspace(charge.start_s + 40.0, charge.t_s[-1] - 20.0, 25).tolist():
        notes.read("charge_energy", t_s)
        notes.read("charge_power", t_s + 4.0)
    session = {
        **setup.head("full-run", "Sample: Full run with recharge", start_ms),
        "vehicle": setup.vehicle("Sample car A", car, road_load=True),
        "conditions": setup.conditions(),
        "protocol": {**setup.protocol(), "charging_efficiency": car.charging_efficiency},
        "course": setup.surveyed(course),
        "devices": [setup.phone(clock_offset_ms=-228)],
        "breadcrumbs": breadcrumbs(fixes, clock, "phone-1"),
        **setup.noted(notes),
    }
    return Sample("full-run", session, truth_document(world, notes, receiver))


def early_shutdown(seed: int = SEED) -> Sample:
    """The car switches off at 2 % shown; nobody has surveyed the course."""
    rng = np.random.default_rng([seed, 2])
    course, start_ms = course_one(), 1_772_540_100_000  # 2026-03-03T12:15Z
    car = replace(
        CAR_A,
        usable_kwh=44.0,
        a_n=134.0,
        c_n_per_mps2=0.47,
        start_soc_pct=6.4,
        shut_down_at_soc_pct=1.9,
        warnings=((-1.9, "battery low"), (-0.9, "charge now")),
    )
    driven = drive(course, car, Plan(start_m=-1500.0, cruise_mps=(21.0, 18.0, 23.0)), rng)
    off_s = driven.moment_of("propulsion_off")
    reset_s = 25.0
    world = World(course, car, driven, start_ms, trip_reset_s=reset_s)
    receiver = Receiver(wandering_m=3.0, time_constant_s=120.0, white_m=0.5)
    clock = Clock(start_ms, offset_ms=310.0)
    fixes = receive(course, driven, float(driven.t_s[-1]) + 120.0, receiver, rng)
    notes = Notebook(
        "early-shutdown",
        Display(car, driven, reset_s=reset_s),
        {"phone-1": clock},
        Passenger(),
        rng,
    )
    happenings = [
        *driven.happenings,
        Happening("trip_reset", reset_s),
        Happening("hazards_on", off_s + 2.5),
    ]
    for happening in sorted(happenings, key=lambda happening: happening.t_s):
        notes.tap(happening)
    for t_s in np.arange(120.0, off_s, 150.0).tolist():
        notes.read("trip_energy", t_s)
        notes.read("trip_distance", t_s + 3.0)
        notes.read("soc", t_s + 6.0)
    notes.read("trip_energy", off_s + 40.0)
    notes.read("trip_distance", off_s + 200.0)
    session = {
        **setup.head("early-shutdown", "Sample: Shut down before zero", start_ms),
        "vehicle": setup.vehicle("Sample car B", car, road_load=False),
        "conditions": setup.conditions(),
        "protocol": setup.protocol(),
        "course": {"label": "Course One", "closed": True},
        "devices": [setup.phone(clock_offset_ms=322)],
        "breadcrumbs": breadcrumbs(fixes, clock, "phone-1"),
        **setup.noted(notes),
    }
    return Sample(
        "early-shutdown", session, truth_document(world, notes, receiver, gate_is_known=False)
    )


def rough_evidence(seed: int = SEED) -> Sample:
    """Gaps, a clock set by an hour, doubles, a stretch without speeds, readings from a film."""
    rng = np.random.default_rng([seed, 3])
    course, start_ms = course_one(), 1_772_613_000_000  # 2026-03-04T08:30Z
    fades, floored = falling_steps(0.06, 0.42, 0.56, 0.67)
    car = replace(CAR_A, start_soc_pct=5.4, meter_ratio=0.993, fades=fades)
    plan = Plan(floored=floored, wind_mps=3.5, unsteadiness_mps=0.7)
    driven = drive(course, car, plan, rng)
    zero_s, off_s = driven.moment_of("zero_soc"), driven.moment_of("propulsion_off")
    reset_s = zero_s + 14.0
    world = World(course, car, driven, start_ms, trip_reset_s=reset_s)
    receiver = Receiver(
        wandering_m=3.5,
        time_constant_s=45.0,
        white_m=0.8,
        doppler_mps=0.2,
        lost_share=0.01,
        double_share=0.015,
        outages_s=tuple(
            (at_s, at_s + long_s)
            for at_s, long_s in (
                (180.5, 12.0),
                (405.5, 27.0),
                (700.5, 8.0),
                (zero_s + 120.5, 45.0),
                (zero_s + 300.5, 18.0),
            )
        ),
        without_speed_s=((500.0, 860.0),),
    )
    set_at_s = zero_s - 160.0
    clock = Clock(start_ms, offset_ms=-120.0, settings=((set_at_s, 3_600_000.0),))
    fixes = receive(course, driven, float(driven.t_s[-1]) + 60.0, receiver, rng)
    display = Display(car, driven, None, reset_s, unit="mi", energy_rounding="down")
    clocks = {"phone-1": clock, "desk": Clock(start_ms)}
    notes = Notebook("rough-evidence", display, clocks, Passenger(), rng)
    happenings = [
        *driven.happenings,
        Happening("trip_reset", reset_s),
        Happening("hazards_on", off_s + 5.0),
    ]
    for happening in sorted(happenings, key=lambda happening: happening.t_s):
        event = notes.tap(happening)
        if happening.kind == "comfort_cut":
            notes.withdraw(notes.tap(Happening("assist_change", happening.t_s + 3.0)))
        elif happening.kind == "warning" and happening.text == "power reduced":
            notes.correct(event, text="power reduced, climate off")
    for t_s in [*np.arange(90.0, zero_s, 130.0).tolist(), *np.arange(reset_s + 70, off_s, 75.0)]:
        notes.read_from_film("trip_energy", t_s)
        notes.read_from_film("trip_distance", t_s + 5.0)
    notes.read_from_film("trip_energy", off_s + 30.0)
    notes.read_from_film("trip_distance", float(driven.t_s[-1]) - 20.0)
    session = {
        **setup.head("rough-evidence", "Sample: Rough evidence", start_ms),
        "vehicle": setup.vehicle("Sample car A", car, road_load=True),
        "conditions": setup.conditions(),
        "protocol": setup.protocol(),
        "course": setup.surveyed(course),
        "devices": [
            setup.phone(clock_offset_ms=-133),
            {"id": "desk", "label": "desk", "clock_offset_ms": 0, "clock_offset_sd_ms": 50},
        ],
        "breadcrumbs": breadcrumbs(fixes, clock, "phone-1"),
        **setup.noted(notes),
    }
    return Sample("rough-evidence", session, truth_document(world, notes, receiver))


def lap_check(seed: int = SEED) -> Sample:
    """Three laps to hold the measured length against the surveyed one; no energy noted."""
    rng = np.random.default_rng([seed, 4])
    course, start_ms = course_one(), 1_772_721_000_000  # 2026-03-05T14:30Z
    plan = Plan(
        start_m=-300.0,
        cruise_mps=(19.0,),
        stop_at_m=3 * TRUE_LAP_M + 260.0,
        parked_after_s=90.0,
    )
    driven = drive(course, CAR_A, plan, rng)
    world = World(course, CAR_A, driven, start_ms)
    receiver = Receiver(wandering_m=1.6, time_constant_s=60.0, white_m=0.3)
    clock = Clock(start_ms, offset_ms=90.0)
    fixes = receive(course, driven, float(driven.t_s[-1]), receiver, rng)
    notes = Notebook(
        "lap-check", Display(CAR_A, driven), {"phone-1": clock}, Passenger(), rng
    )  # fmt: skip
    notes.read("trip_distance", 30.0)
    notes.read("trip_distance", float(driven.t_s[-1]) - 40.0)
    session = {
        **setup.head("lap-check", "Sample: Lap check", start_ms),
        "vehicle": setup.vehicle("Sample car A", CAR_A, road_load=True),
        "conditions": setup.conditions(),
        "protocol": {"tap_delay_s": dict(setup.TAP_DELAY_S)},
        "course": setup.surveyed(course),
        "devices": [setup.phone(clock_offset_ms=81)],
        "breadcrumbs": breadcrumbs(fixes, clock, "phone-1"),
        **setup.noted(notes),
    }
    return Sample("lap-check", session, truth_document(world, notes, receiver))


SAMPLES: tuple[Callable[..., Sample], ...] = (full_run, early_shutdown, rough_evidence, lap_check)


def _read_the_drive(
    notes: Notebook, first_s: float, zero_s: float, off_s: float, reset_s: float
) -> None:
    """The display's figures on the way down, some at a time as a passenger can manage."""
    for t_s in np.arange(first_s, zero_s, 170.0).tolist():
        notes.read("trip_energy", t_s)
        notes.read("trip_distance", t_s + 8.0)
        notes.read("range_shown", t_s + 16.0)
    for t_s in np.arange(reset_s + 45.0, off_s, 60.0).tolist():
        notes.read("trip_energy", t_s)
        notes.read("trip_distance", t_s + 6.0)
        notes.read("power_available", t_s + 12.0)
    for t_s in np.arange(reset_s + 200.0, off_s, 150.0).tolist():
        notes.read("mean_consumption", t_s)
    for quantity in ("trip_energy", "mean_consumption", "pack_voltage"):
        notes.read(quantity, off_s + 25.0)
    notes.read("trip_distance", float(notes.display.drive.t_s[-1]) - 30.0)
