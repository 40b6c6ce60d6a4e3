"""One simulated session: its file, and the truth beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from simulator.receiver import Fixes, Receiver
from simulator.recorder import Clock, Notebook, session_id
from simulator.truth import World, truth_document, without_positions

from .hidden import hidden_spans
from .notes import FILM, notes_of
from .receivers import IMPORTED, receiver_of, recorded
from .setting import Setting
from .world import START_MS, rng_of, way_of, world_of

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
    hidden = ()
    if setting.hidden is not None:
        hidden = hidden_spans(setting.hidden, world.drive, rng_of(number, "hidden"))
    receiver = receiver_of(setting, world, hidden, rng)
    clocks = _clocks(setting, world, rng)
    notes = notes_of(setting, number, world, clocks, hidden, rng)
    fixes, crumbs = recorded(setting, number, world, receiver, clocks)
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
        "devices": _devices(setting, clocks, rng),
        "breadcrumbs": crumbs,
        "events": notes.events,
        "readings": notes.readings,
        "photos": [],
    }
    truth = _truth(setting, world, notes, receiver, fixes)
    return Simulated(document, truth, world, fixes, notes, number)


def _devices(
    setting: Setting, clocks: dict[str, Clock], rng: np.random.Generator
) -> list[dict[str, Any]]:
    devices: list[dict[str, Any]] = [
        {
            "id": name,
            "clock_offset_ms": round(clock.offset_ms + _STRAY_MS * rng.standard_normal()),
            "clock_offset_sd_ms": _STRAY_MS,
        }
        for name, clock in clocks.items()
    ]
    for device in devices:
        if device["id"] == FILM:
            device |= {"kind": "film", "label": "dash", "frame_rate": 29.97}
    if setting.imported != "no":
        devices.append({"id": IMPORTED, "label": "imported track"})
    return devices


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
    if setting.readings == "changes":
        clocks[FILM] = Clock(START_MS, float(rng.uniform(-900, 900)))
    return clocks


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


def _truth(
    setting: Setting, world: World, notes: Notebook, receiver: Receiver, fixes: Fixes
) -> dict[str, Any]:
    """The truth for all that the evidence can tell: distances count from the first fix."""
    truth = truth_document(world, notes, receiver, gate_is_known=setting.gate_known)
    if fixes.t_s.size == 0:
        return without_positions(truth)
    first_m, last_m = (world.driven_m(t_s) for t_s in (fixes.t_s.min(), fixes.t_s.max()))
    truth["distance"]["total_m"] = last_m - first_m
    for entry in truth["timeline"]:
        entry["distance_m"] -= first_m
    return truth
