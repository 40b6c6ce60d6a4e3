"""What truly happened in one simulated session: another car, foot, wind and charge each time."""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass, fields, replace
from functools import cache, lru_cache
from typing import Literal

import numpy as np
from simulator.car import Car
from simulator.course import Course, build_course
from simulator.drive import Crawl, Drive, Halt, Happening, Plan, Restart, Slope, drive
from simulator.invented import CAR_A, STRAIGHTS_AT_M, course_one, falling_steps
from simulator.pits import through_pits
from simulator.recharge import ChargePlan, recharge
from simulator.truth import World

from .setting import Between, Setting

START_MS = 1_772_443_800_000
PARKED_S = 600.0
_SEED = 3
# What the world varies by from session to session; invented, wide enough to be fair.
_LOAD_SD = 0.04  # the true road load against the stated one, all coefficients alike
_LONGER = 2.4  # times the usual reserve, on a long way
_KWH_PER_KM = 0.15  # roughly, to place what happens on a long way
_QUICK_KW = 20.0  # from here on it charges to a higher charge, or it would be over at once


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
    long: bool
    restart: Literal["no", "failed", "succeeded"]
    reset_after_zero_s: Between
    reset_at_start: bool
    charge_kw: Between


@lru_cache(maxsize=16)
def world_of(number: int, way: Way) -> World:
    """The truth of session ``number``."""
    rng = rng_of(number, "world")
    course = course_of(way.shape)
    load = 1 + _LOAD_SD * float(rng.standard_normal())
    falls_kwh = np.array([0.06, 0.38, 0.52, 0.63])
    fades, floored = falling_steps(*(falls_kwh * (_LONGER if way.long else 1)).tolist())
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
    if way.long:
        rng_long = rng_of(number, "long")
        car = replace(
            car,
            start_soc_pct=float(rng_long.uniform(4.5, 6.0)),
            reserve_kwh=_LONGER * car.reserve_kwh,
        )
    lap_m = course.length_m
    pit_gate_m = None if way.pit_lap is None else way.pit_lap * lap_m
    if way.shape == "figure-of-eight":
        floored = tuple(
            replace(f, straights_at_m=(lap_m - 250.0, lap_m / 2 - 250.0)) for f in floored
        )
    else:
        floored = tuple(replace(f, straights_at_m=STRAIGHTS_AT_M) for f in floored)
    halts: tuple[Halt, ...] = ()
    crawls: tuple[Crawl, ...] = ()
    if pit_gate_m is not None:
        halts = (Halt(pit_gate_m + 20.0, 30.0),)
    if way.long:
        halts, crawls = _held_up(car, rng_of(number, "halts"))
    plan = Plan(
        start_m=way.start_m,
        parked_before_s=30.0,
        cruise_mps=tuple(rng.uniform(17, 25, 3).tolist()),
        cruise_past_zero_mps=float(rng.uniform(17, 23)),
        floored=floored,
        halts=halts,
        crawls=crawls,
        restart=_restart(way, rng_of(number, "restart")),
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
        full_kw=float(rng.uniform(*way.charge_kw)),
        until_soc_pct=3.2 if way.charge_kw[1] < _QUICK_KW else 12.0,
    )
    charge = recharge(car, driven, charge_plan, rng)
    reset_s = at_s(driven, "zero_soc") + float(rng.uniform(*way.reset_after_zero_s))
    if way.reset_at_start:
        reset_s = 35.0
    return World(course, car, driven, START_MS, charge, reset_s)


def _held_up(car: Car, rng: np.random.Generator) -> tuple[tuple[Halt, ...], tuple[Crawl, ...]]:
    """Five stands of 4 s to 25 min and three crawls, spread over the whole way."""
    whole_m = car.off_at_kwh / _KWH_PER_KM * 1000
    parts = (np.arange(8) + rng.uniform(0.2, 0.8, 8)) / 8.5
    crawling = set(rng.choice(8, 3, replace=False).tolist())
    halts, crawls = [], []
    for k, at_m in enumerate((parts * whole_m).tolist()):
        if k in crawling:
            to_m = at_m + float(rng.uniform(40, 300))
            crawls.append(Crawl(at_m, to_m, float(rng.uniform(1.0, 2.5))))
        else:
            halts.append(Halt(at_m, math.exp(rng.uniform(math.log(4), math.log(1500)))))
    return tuple(halts), tuple(crawls)


def _restart(way: Way, rng: np.random.Generator) -> Restart | None:
    if way.restart == "no":
        return None
    gives_kwh = float(rng.uniform(0.05, 0.3)) if way.restart == "succeeded" else 0.0
    return Restart(after_s=float(rng.uniform(20, 120)), gives_kwh=gives_kwh)


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
    """When something happened for good that happens in every session of the study."""
    when = driven.last(kind)
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
    return Way(**{field.name: getattr(setting, field.name) for field in fields(Way)})
