"""What was noted of one simulated session, in the words of a session file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from simulator.display import Display
from simulator.receiver import Fixes, Receiver, receive
from simulator.recorder import Clock, Notebook, Passenger, breadcrumbs, session_id
from simulator.truth import World, truth_document

from .settings import EVERYWHERE, Setting
from .world import PARKED_S, START_MS, at_s, happenings, height_of, rng_of, way_of, world_of

_STRAY_MS = 20.0  # how well an offset between clocks is known
_SURVEY_SD_M = 0.5
_LINE_M = 0.4  # how far aside of the surveyed line the car drives all round, at most
_STATED = {"a_n": 118.0, "b_n_per_mps": 1.3, "c_n_per_mps2": 0.43, "driveline_efficiency": 0.89}


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """One session: its file, its truth, and the fixes and notes behind it."""

    document: dict[str, Any]
    truth: dict[str, Any]
    world: World
    fixes: Fixes
    notes: Notebook
    number: int


def simulate(setting: Setting, number: int) -> Simulated:
    """Session ``number`` of a setting, the same whoever makes it and in which order."""
    world = world_of(number, way_of(setting))
    rng = rng_of(number, "evidence")
    receiver = _receiver(setting, world, rng)
    until_s = float(world.drive.t_s[-1]) + PARKED_S + 30.0
    fixes = receive(world.course, world.drive, until_s, receiver, rng_of(number, "receiver"))
    clocks = _clocks(setting, world, rng)
    notes = _notes(setting, number, world, clocks, rng)
    crumbs = breadcrumbs(fixes, clocks["phone-1"], "phone-1")
    _add_altitudes(crumbs, setting, number, world, fixes)
    if setting.second_phone:
        other = Receiver(wandering_m=4.0, time_constant_s=40.0, white_m=0.6)
        seen = receive(world.course, world.drive, until_s - 40.0, other, rng_of(number, "other"))
        crumbs += breadcrumbs(seen, clocks["phone-2"], "phone-2")
    document = {
        "format": "ebbline-session",
        "version": 1,
        "session": {"id": session_id(f"study/{number}"), "title": setting.name},
        "vehicle": {
            "pack": {"usable_kwh": world.car.usable_kwh},
            "road_load": dict(_STATED) if setting.road_load_known else None,
        },
        "protocol": _protocol(setting),
        "course": _course(setting, world, rng),
        "devices": [
            {
                "id": name,
                "clock_offset_ms": round(clock.offset_ms + _STRAY_MS * rng.standard_normal()),
                "clock_offset_sd_ms": _STRAY_MS,
            }
            for name, clock in clocks.items()
        ],
        "breadcrumbs": crumbs,
        "events": notes.events,
        "readings": notes.readings,
        "photos": [],
    }
    return Simulated(document, _truth(setting, world, notes, receiver), world, fixes, notes, number)


def _add_altitudes(
    crumbs: list[dict[str, Any]], setting: Setting, number: int, world: World, fixes: Fixes
) -> None:
    """Heights with a drift as lasting as the position's and 1.7 times as great, and 0.5 m white."""
    rng = rng_of(number, "altitude")
    order = np.argsort(fixes.t_s, kind="stable")
    step_s = np.diff(fixes.t_s[order], prepend=fixes.t_s[order[0]])
    kept = np.exp(-step_s / setting.time_constant_s)
    drift_m = np.empty(order.size)
    last_m = float(rng.standard_normal())
    for k, (share, chance) in enumerate(zip(kept, rng.standard_normal(order.size), strict=True)):
        last_m = share * last_m + math.sqrt(1 - share**2) * chance
        drift_m[k] = last_m
    seen_m = 80.0 + height_of(world, number, world.drive.at(world.drive.s_m, fixes.t_s))
    seen_m[order] += 1.7 * setting.sigma_m * drift_m
    seen_m += 0.5 * rng.standard_normal(order.size)
    at = 0
    for entry in crumbs:
        count = len(entry["seq"])
        entry["altitude_m"] = np.round(seen_m[at : at + count], 1).tolist()
        at += count


def _receiver(setting: Setting, world: World, rng: np.random.Generator) -> Receiver:
    drive = world.drive
    from_s, to_s = 60.0, at_s(drive, "standstill") - 70.0
    outages = []
    for start_s in rng.uniform(from_s, to_s, setting.dropouts).tolist():
        outages.append((start_s, start_s + 5.0 * 12.0 ** float(rng.random())))
    speedless = [
        (start_s, start_s + float(rng.uniform(60, 300)))
        for start_s in rng.uniform(from_s, to_s, setting.speedless).tolist()
    ]
    return Receiver(
        wandering_m=setting.sigma_m,
        time_constant_s=setting.time_constant_s,
        interval_s=setting.interval_s,
        double_share=setting.double_share,
        late_share=setting.late_share,
        outlier_share=setting.outlier_share,
        outages_s=tuple(outages),
        without_speed_s=tuple(speedless) if setting.doppler else EVERYWHERE,
    )


def _clocks(setting: Setting, world: World, rng: np.random.Generator) -> dict[str, Clock]:
    settings: tuple[tuple[float, float], ...] = ()
    offset_ms, set_at, set_by_s = (
        rng.uniform(-900, 900),
        rng.uniform(0.2, 0.8),
        rng.uniform(60, 900),
    )
    if setting.clock_set != "no":
        sign = 1 if setting.clock_set == "forward" else -1
        moving_s = np.flatnonzero(world.drive.v_mps > 8)
        when_s = float(world.drive.t_s[moving_s[int(set_at * moving_s.size)]])
        settings = ((when_s, sign * 1000.0 * float(set_by_s)),)
    clocks = {
        "phone-1": Clock(START_MS, float(offset_ms), settings, tells_pages=setting.pages_told)
    }
    if setting.second_phone:
        clocks["phone-2"] = Clock(
            START_MS, float(rng.uniform(-4000, 4000)), drift_ppm=float(rng.uniform(-60, 60))
        )
    return clocks


def _notes(
    setting: Setting,
    number: int,
    world: World,
    clocks: dict[str, Clock],
    rng: np.random.Generator,
) -> Notebook:
    display = Display(
        world.car, world.drive, world.charge, world.trip_reset_s, energy_rounding=setting.rounding
    )
    passenger = Passenger(evenly_s=setting.late_taps_s, noting_s=setting.noting_s)
    notes = Notebook(f"study/{number}", display, clocks, passenger, rng_of(number, "taps"))
    devices = list(clocks)
    for happening in happenings(world):
        notes.tap(happening, devices[int(rng.integers(len(devices)))])
    source = "typed" if setting.noting_told else "pad"
    for quantity, t_s in _to_read(world, per_cent_only=setting.per_cent_only):
        notes.read(quantity, t_s, devices[int(rng.integers(len(devices)))], source)
    return notes


def _to_read(world: World, *, per_cent_only: bool) -> list[tuple[str, float]]:
    """Which figures a passenger manages to read, and when."""
    drive, charge = world.drive, world.charge
    assert charge is not None
    assert world.trip_reset_s is not None
    zero_s, off_s = at_s(drive, "zero_soc"), at_s(drive, "propulsion_off")
    found: list[tuple[str, float]] = []
    for t_s in np.arange(45.0, zero_s - 5, 120.0).tolist():
        found += [("trip_energy", t_s), ("trip_distance", t_s + 8.0), ("soc", t_s + 16.0)]
    for t_s in np.arange(world.trip_reset_s + 45.0, off_s - 15, 60.0).tolist():
        found += [("trip_energy", t_s), ("trip_distance", t_s + 6.0), ("soc", t_s + 12.0)]
    for t_s in np.arange(world.trip_reset_s + 120.0, off_s - 10, 120.0).tolist():
        found.append(("mean_consumption", t_s))
    found += [("trip_energy", off_s + 25.0), ("mean_consumption", off_s + 30.0)]
    found.append(("trip_distance", float(drive.t_s[-1]) - 20.0))
    for t_s in np.linspace(charge.start_s + 40.0, charge.t_s[-1] - 25.0, 22).tolist():
        found += [("charge_energy", t_s), ("charge_power", t_s + 4.0)]
    energy = ("trip_energy", "mean_consumption")
    return [(what, t_s) for what, t_s in found if not (per_cent_only and what in energy)]


def _protocol(setting: Setting) -> dict[str, Any]:
    protocol: dict[str, Any] = {"zero_basis": "zero_soc", "charging_efficiency": 0.92}
    if setting.noting_s and setting.noting_told:
        mean_s, sd_s = _mean_and_sd(setting.noting_s)
        protocol["reading_delay_s"] = {"mean": 0.9 + mean_s, "sd": math.hypot(0.4, sd_s)}
    if setting.delay_told:
        mean_s, sd_s = _mean_and_sd(setting.late_taps_s) if setting.late_taps_s else (0.9, 0.4)
        protocol["tap_delay_s"] = {"mean": mean_s, "sd": sd_s}
    return protocol


def _mean_and_sd(evenly: tuple[float, float]) -> tuple[float, float]:
    """Of anything between two values, each as likely."""
    return sum(evenly) / 2, (evenly[1] - evenly[0]) / math.sqrt(12)


def _course(setting: Setting, world: World, rng: np.random.Generator) -> dict[str, Any]:
    """The course as somebody surveyed it: its line isn't quite the one that was driven."""
    course = world.course
    beside_m = 2 * math.pi * float(rng.uniform(-_LINE_M, _LINE_M))
    surveyed_m = course.length_m - beside_m + _SURVEY_SD_M * float(rng.standard_normal())
    stated: dict[str, Any] = {"closed": True}
    if setting.surveyed:
        stated |= {"surveyed_lap_m": round(surveyed_m, 1), "surveyed_lap_sd_m": _SURVEY_SD_M}
    if setting.gate_known:
        lat, lon = course.geographic(course.plane_at(np.array([0.0])))
        against = 180.0 if setting.way == "against it" else 0.0
        heading_deg = (float(course.heading_deg(np.array([0.0]))[0]) + against) % 360
        stated["gate"] = {
            "lat": round(float(lat[0]), 7),
            "lon": round(float(lon[0]), 7),
            "heading_deg": round(heading_deg, 1) % 360,
            "half_width_m": 20.0,
        }
    return stated


def _truth(setting: Setting, world: World, notes: Notebook, receiver: Receiver) -> dict[str, Any]:
    kinds = {event["id"]: event["kind"] for event in notes.events}
    taps_s = [(event_id, kinds[event_id], t_s) for event_id, t_s in notes.true_s.items()]
    return truth_document(world, notes.name, taps_s, receiver, gate_is_known=setting.gate_known)
