"""What stands in an invented session's file beside what was recorded."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np

from simulator.car import Car
from simulator.course import Course
from simulator.invented import INVENTED, SURVEYED_LAP_M
from simulator.recorder import Notebook, session_id

FRAME_RATE = 25.0
TAP_DELAY_S = {"mean": 0.9, "sd": 0.4}
CLOCK_SD_MS = 20


def head(name: str, title: str, start_ms: int) -> dict[str, Any]:
    """The first keys of a session file. ``name`` makes its id."""
    return {
        "format": "ebbline-session",
        "version": 1,
        "session": {
            "id": session_id(name),
            "title": title,
            "started_at": datetime.fromtimestamp(start_ms / 1000, UTC).isoformat(),
            "time_zone": "UTC",
            "notes": INVENTED,
        },
    }


def vehicle(
    label: str,
    car: Car,
    *,
    road_load: bool,
    odometer_km: float = 3120,
    software: str = "1.0",
    chemistry: str = "NMC",
) -> dict[str, Any]:
    """The car as its maker states it, with or without its road load."""
    stated: dict[str, Any] = {
        "label": label,
        "software": software,
        "odometer_km": odometer_km,
        "pack": {"usable_kwh": car.usable_kwh, "series_cells": 96, "chemistry": chemistry},
    }
    if road_load:
        stated["road_load"] = {
            "a_n": car.a_n,
            "b_n_per_mps": car.b_n_per_mps,
            "c_n_per_mps2": car.c_n_per_mps2,
            "driveline_efficiency": car.driveline_efficiency,
        }
    return stated


def conditions(ambient_c: float = 11.0, surface: str = "dry") -> dict[str, Any]:
    """How it was that day."""
    return {
        "ambient_c": ambient_c,
        "climate": "on",
        "drive_mode": "normal",
        "surface": surface,
        "full_charge_before": True,
        "battery_warmed": True,
    }


def protocol() -> dict[str, Any]:
    """How the run was to be driven."""
    return {
        "start_soc_pct": 6,
        "speed_band_kmh": [40, 90],
        "tap_delay_s": dict(TAP_DELAY_S),
        "zero_basis": "zero_soc",
    }


def surveyed(course: Course) -> dict[str, Any]:
    """The course as its owner states it, with its gate."""
    gate_m = course.plane_at(np.array([0.0]))
    lat, lon = course.geographic(gate_m)
    return {
        "label": "Course One",
        "surveyed_lap_m": SURVEYED_LAP_M,
        "surveyed_lap_sd_m": 0.5,
        "closed": True,
        "gate": {
            "lat": round(float(lat[0]), 7),
            "lon": round(float(lon[0]), 7),
            "heading_deg": round(float(course.heading_deg(np.array([0.0]))[0]), 1),
            "half_width_m": 20.0,
        },
    }


def phone(clock_offset_ms: int) -> dict[str, Any]:
    """The passenger's phone."""
    return {
        "id": "phone-1",
        "label": "phone",
        "clock_offset_ms": clock_offset_ms,
        "clock_offset_sd_ms": CLOCK_SD_MS,
    }


def film(label: str, clock_sd_ms: float = 0.0) -> dict[str, Any]:
    """A camera; its records stand at session time, which is known so well."""
    return {
        "id": "film-1",
        "kind": "film",
        "label": label,
        "frame_rate": FRAME_RATE,
        "clock_offset_ms": 0,
        "clock_offset_sd_ms": round(clock_sd_ms),
    }


def noted(notes: Notebook) -> dict[str, Any]:
    """What was tapped, read and photographed."""
    return {"events": notes.events, "readings": notes.readings, "photos": notes.photos}
