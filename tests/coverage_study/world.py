"""What truly happened in one simulated session: another car, foot, wind and charge each time."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from functools import cache, lru_cache

import numpy as np
from scenarios import CAR_A, STRAIGHTS_AT_M, course_one, falling_steps
from simulator.course import Course, build_course
from simulator.drive import Drive, Happening, Plan, Slope, drive
from simulator.pits import through_pits
from simulator.recharge import ChargePlan, recharge
from simulator.truth import World

from .settings import Setting

START_MS = 1_772_443_800_000
PARKED_S = 600.0
_SEED = 3
# What the world varies by from session to session; invented, wide enough to be fair.
_LOAD_SD = 0.04  # the true road load against the stated one, all coefficients alike


def rng_of(number: int, part: str) -> np.random.Generator:
    """Chance for one part of one session, whatever else is drawn and whoever draws it."""
    return np.random.default_rng([_SEED, number, zlib.crc32(part.encode())])


@cache
def course_of(shape: str) -> Course:
    """The course of a shape, built once."""
    if shape == "five-cornered":
        return course_one()
    corners = np.array([[-420, 190], [420, -190], [560, 0], [420, 190], [-420, -190], [-560, 0]])
    return build_course(12.0, -38.0, 2400.3, corners.astype(float), rounding_m=60.0)


@dataclass(frozen=True, slots=True)
class Way:
    """What of a setting bears on the drive itself; settings that share it share the drive."""

    shape: str
    start_m: float
    pit_lap: int | None
    regeneration: float


@lru_cache(maxsize=16)
def world_of(number: int, way: Way) -> World:
    """The truth of session ``number``."""
    rng = rng_of(number, "world")
    course = course_of(way.shape)
    load = 1 + _LOAD_SD * float(rng.standard_normal())
    fades, floored = falling_steps(0.06, 0.38, 0.52, 0.63)
    car = replace(
        CAR_A,
        fades=fades,
        a_n=CAR_A.a_n * load,
        b_n_per_mps=CAR_A.b_n_per_mps * load,
        c_n_per_mps2=CAR_A.c_n_per_mps2 * load,
        mass_kg=float(rng.uniform(1500, 2200)),
        auxiliary_kw=float(rng.uniform(0.4, 1.2)),
        regeneration_efficiency=way.regeneration,
        start_soc_pct=float(rng.uniform(1.6, 2.4)),
        reserve_kwh=float(rng.uniform(0.7, 0.95)),
        meter_ratio=1 + 0.008 * float(rng.standard_normal()),
        charging_efficiency=0.92 + 0.01 * float(rng.standard_normal()),
    )
    lap_m = course.length_m
    pit_gate_m = None if way.pit_lap is None else way.pit_lap * lap_m
    if way.shape == "figure-of-eight":
        floored = tuple(
            replace(f, straights_at_m=(lap_m - 250.0, lap_m / 2 - 250.0)) for f in floored
        )
    else:
        floored = tuple(replace(f, straights_at_m=STRAIGHTS_AT_M) for f in floored)
    plan = Plan(
        start_m=way.start_m,
        parked_before_s=30.0,
        cruise_mps=tuple(rng.uniform(17, 25, 3).tolist()),
        cruise_past_zero_mps=float(rng.uniform(17, 23)),
        floored=floored,
        halt_at_m=None if pit_gate_m is None else pit_gate_m + 20.0,
        wind_mps=float(rng.uniform(0, 4)),
        wind_from_deg=float(rng.uniform(0, 360)),
        unsteadiness_mps=float(rng.uniform(0.2, 0.8)),
        slopes=_slopes(rng_of(number, "hills")),
    )
    driven = drive(course, car, plan, rng)
    if pit_gate_m is not None:
        course, driven = through_pits(course, driven, pit_gate_m)
    charge_plan = ChargePlan(
        plug_in_after_s=float(rng.uniform(200, 400)),
        trickle_kw=float(rng.uniform(1.0, 2.5)),
        trickle_s=float(rng.uniform(150, 400)),
        ramp_s=float(rng.uniform(10, 60)),
        full_kw=float(rng.uniform(9, 11)),
        until_soc_pct=3.2,
    )
    charge = recharge(car, driven, charge_plan, rng)
    reset_s = at_s(driven, "zero_soc") + float(rng.uniform(3, 15))
    return World(course, car, driven, START_MS, charge, reset_s)


def _slopes(rng: np.random.Generator) -> tuple[Slope, ...]:
    """From a level course to one of 2 % and more: one rise and fall a lap, and a quicker one."""
    return tuple(
        Slope(float(rng.uniform(0.0, steepest)), waves, float(rng.uniform(0.0, 2 * np.pi)))
        for steepest, waves in ((0.015, 1), (0.01, int(rng.integers(2, 5))))
    )


def rise_of(world: World, number: int, s_m: np.ndarray) -> np.ndarray:
    """Rise per distance (n,) at places (n,) from the gate, as the car felt it."""
    turn = 2 * np.pi * s_m / world.course.length_m
    return np.asarray(
        sum(
            slope.steepest * np.sin(slope.waves * turn + slope.phase)
            for slope in _slopes(rng_of(number, "hills"))
        )
    )


def height_of(world: World, number: int, s_m: np.ndarray) -> np.ndarray:
    """Height in m (n,) at places (n,) from the gate: the rise summed up."""
    turn = 2 * np.pi * s_m / world.course.length_m
    return np.asarray(
        sum(
            -slope.steepest * world.course.length_m / (2 * np.pi * slope.waves)
            * np.cos(slope.waves * turn + slope.phase)
            for slope in _slopes(rng_of(number, "hills"))
        )
    )  # fmt: skip


def at_s(driven: Drive, kind: str) -> float:
    """When something happened that happens in every session of the study."""
    when = driven.when(kind)
    assert when is not None, kind
    return when


def happenings(world: World) -> list[Happening]:
    """Everything a passenger could tap, in order."""
    assert world.charge is not None
    assert world.trip_reset_s is not None
    found = [
        *world.drive.happenings,
        Happening("trip_reset", world.trip_reset_s),
        Happening("hazards_on", at_s(world.drive, "propulsion_off") + 3.5),
        *world.charge.happenings,
    ]
    return sorted(found, key=lambda happening: happening.t_s)


def way_of(setting: Setting) -> Way:
    """The part of a setting that bears on the drive."""
    return Way(setting.shape, setting.start_m, setting.pit_lap, setting.regeneration)
