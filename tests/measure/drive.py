"""Small synthetic drives for tests of the measuring core: truth made here, noise on top."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.geodesy import LocalPlane
from ebbline.measure.time.moments import Events, Moment, TimedEvent
from ebbline.measure.track.fixes import Fixes
from ebbline.records.arrays import FloatArray
from ebbline.records.evidence import Breadcrumbs, Event, Session
from ebbline.records.setup import Device

START_S = 1_700_000_000.0
PLANE = LocalPlane(12.0, -38.0)  # open sea


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """True motion at the fixes: seconds from START_S, position, distance and speed."""

    t_s: FloatArray
    position_m: FloatArray
    velocity_mps: FloatArray
    along_m: FloatArray


def oval(duration_s: float, *, speed_mps: float = 18.0, step_s: float = 1.0) -> Drive:
    """Laps of 2000 m: two straights of 600 m and two bends, from standstill, at one speed."""
    straight, radius = 600.0, 400.0 / np.pi
    t_s = np.arange(0.0, duration_s, step_s)
    ramp_s = 12.0
    speed = speed_mps * np.clip(t_s / ramp_s, 0, 1)
    along = np.where(
        t_s < ramp_s,
        speed_mps * t_s**2 / (2 * ramp_s),
        speed_mps * (t_s - ramp_s / 2),
    )
    in_lap = along % 2000.0
    bend = np.where(in_lap < straight, 0.0, np.clip((in_lap - straight) / radius, 0, np.pi))
    second = np.clip((in_lap - straight - 400.0 - straight) / radius, 0, np.pi)
    heading = bend + second
    on_first = np.minimum(in_lap, straight)
    on_second = np.clip(in_lap - straight - 400.0, 0, straight)
    east = radius * (1 - np.cos(bend)) - radius * (1 - np.cos(second))
    north = on_first + radius * np.sin(bend) - on_second - radius * np.sin(second)
    velocity = speed[:, None] * np.column_stack([np.sin(heading), np.cos(heading)])
    return Drive(t_s, np.column_stack([east, north]), velocity, along)


def on_a_straight(speed_mps: np.ndarray) -> Drive:
    """A drive due north, its speeds second by second."""
    along_m = np.concatenate([[0.0], np.cumsum((speed_mps[1:] + speed_mps[:-1]) / 2)])
    north = np.column_stack([np.zeros(along_m.size), along_m])
    velocity = np.column_stack([np.zeros(along_m.size), speed_mps])
    return Drive(np.arange(along_m.size, dtype=float), north, velocity, along_m)


def fixes(
    drive: Drive,
    *,
    seed: int,
    sigma_m: float = 3.0,
    drift_s: float = 60.0,
    white_m: float = 0.5,
    doppler_mps: float | None = 0.1,
) -> Fixes:
    """What a receiver makes of a drive: Gauss-Markov drift, white noise, Doppler speeds."""
    rng = np.random.default_rng(seed)
    n = drive.t_s.size
    kept = np.exp(-np.diff(drive.t_s, prepend=drive.t_s[0]) / drift_s)
    drift = np.empty((n, 2))
    drift[0] = rng.normal(0, sigma_m, 2)
    for k in range(1, n):
        step = sigma_m * np.sqrt(1 - kept[k] ** 2)
        drift[k] = kept[k] * drift[k - 1] + rng.normal(0, step, 2)
    position = drive.position_m + drift + rng.normal(0, white_m, (n, 2))
    lat, lon = PLANE.inverse(position[:, 0], position[:, 1])
    speed = np.full(n, np.nan)
    heading = np.full(n, np.nan)
    if doppler_mps is not None:
        velocity = drive.velocity_mps + rng.normal(0, doppler_mps, (n, 2))
        speed = np.hypot(*velocity.T)
        heading = np.degrees(np.arctan2(velocity[:, 0], velocity[:, 1])) % 360
    return Fixes(
        device="phone",
        t_s=START_S + drive.t_s,
        lat=lat,
        lon=lon,
        sigma_m=np.full(n, sigma_m),
        speed_mps=speed,
        heading_deg=heading,
    )


def hidden(seen: Fixes, from_s: float, to_s: float, later_s: float = 0.0) -> Fixes:
    """Without the fixes between two moments, and what follows so much later."""
    after = seen.t_s > START_S + to_s - 0.5
    kept = after | (seen.t_s < START_S + from_s + 0.5)
    columns = {name: getattr(seen, name)[kept] for name in Fixes.__slots__ if name != "device"}
    columns["t_s"] = (seen.t_s + later_s * after)[kept]
    return Fixes(seen.device, **columns)


def session(seen: Fixes, **parts: object) -> Session:
    """A session with one device's fixes and whatever else a test gives."""
    n = seen.t_s.size
    crumbs = Breadcrumbs(
        device=seen.device,
        seq=np.arange(n),
        t_ms=np.round(seen.t_s * 1000).astype(np.int64),
        lat=seen.lat,
        lon=seen.lon,
        accuracy_m=2.447747 * seen.sigma_m,
        speed_mps=seen.speed_mps,
        heading_deg=seen.heading_deg,
        altitude_m=np.full(n, np.nan),
        page=np.full(n, ""),
        mono_ms=np.full(n, np.nan),
    )
    return Session(
        "00000000-0000-4000-8000-000000000001",
        devices=(Device(seen.device),),
        breadcrumbs=(crumbs,),
        **parts,  # type: ignore[arg-type]
    )


def trip_resets(*moments: Moment) -> Events:
    """Taps that the trip meter was reset at these moments."""
    return Events(
        TimedEvent(Event(f"reset-{k}", "phone", round(1000 * at.t_s), "trip_reset"), at)
        for k, at in enumerate(moments)
    )
