"""The receivers of a session, and what they recorded."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from simulator.receiver import Fixes, FusedSpeeds, Receiver, Span, receive
from simulator.recorder import Clock, breadcrumbs
from simulator.smooth_errors import SmoothErrors
from simulator.truth import World

from .setting import Setting
from .world import PARKED_S, START_MS, at_s, height_of, rng_of

EVERYWHERE = ((-1e9, 1e9),)
IMPORTED = "track-1"
_HOURS_OFF = (-12, -9, -5, -3, -2, -1, 1, 2, 3, 5, 8, 24, 72)


def receiver_of(
    setting: Setting, world: World, hidden: tuple[Span, ...], rng: np.random.Generator
) -> Receiver:
    """The phone's."""
    drive = world.drive
    from_s, to_s = 60.0, at_s(drive, "standstill") - 70.0
    outages = list(hidden)
    for start_s in rng.uniform(from_s, to_s, setting.dropouts).tolist():
        outages.append((start_s, start_s + 5.0 * 12.0 ** float(rng.random())))
    speedless = [
        (start_s, start_s + float(rng.uniform(60, 300)))
        for start_s in rng.uniform(from_s, to_s, setting.speedless).tolist()
    ]
    receiver = Receiver(
        wandering_m=setting.sigma_m,
        time_constant_s=setting.time_constant_s,
        interval_s=setting.interval_s,
        irregular_s=setting.irregular_s,
        double_share=setting.double_share,
        late_share=setting.late_share,
        outlier_share=setting.outlier_share,
        outages_s=tuple(outages),
        without_speed_s=tuple(speedless) if setting.doppler else EVERYWHERE,
        claims=None if setting.claims is None else _any_of(setting.claims, rng),
    )
    if setting.filtered_s is not None:
        receiver = replace(
            receiver, smooth=_smooth(setting.sigma_m, setting.filtered_s, rng), doppler_mps=0.06
        )
    if setting.fused_off_by:
        off_by, wanders = rng.uniform(-1, 1) * setting.fused_off_by, 0.2 * setting.fused_off_by
        receiver = replace(
            receiver, fused=FusedSpeeds(float(off_by), wanders, float(rng.uniform(0.2, 1.0)))
        )
    return receiver


def _any_of(between: tuple[float, float], rng: np.random.Generator) -> float:
    """A factor, each doubling as likely; nothing is drawn where there is no choice."""
    low, high = (math.log(end) for end in between)
    return math.exp(low if low == high else rng.uniform(low, high))


def _smooth(
    sigma_m: float, lasting_s: tuple[float, float], rng: np.random.Generator
) -> SmoothErrors:
    """A slow wandering, a quicker one, and a filter, each of any kind that static logs show."""
    slow = float(rng.uniform(0.5, 0.9))  # of the variance
    quick_s = _any_of((15.0, 60.0), rng)
    parts = (
        (sigma_m * math.sqrt(slow), _any_of(lasting_s, rng)),
        (sigma_m * math.sqrt(1 - slow), quick_s),
    )
    return SmoothErrors(parts, smoothing_s=_any_of((3.0, 8.0), rng))


def recorded(
    setting: Setting,
    number: int,
    world: World,
    receiver: Receiver,
    clocks: dict[str, Clock],
) -> tuple[Fixes, list[dict[str, Any]]]:
    """The fixes that the plain methods get too, and the breadcrumbs of all devices."""
    until_s = float(world.drive.t_s[-1]) + PARKED_S + 30.0
    fixes = receive(world.course, world.drive, until_s, receiver, rng_of(number, "receiver"))
    fixes = _kept(setting, number, world, fixes)
    crumbs = breadcrumbs(fixes, clocks["phone-1"], "phone-1") if fixes.t_s.size else []
    _add_altitudes(crumbs, setting, number, world, fixes)
    if setting.second_phone:
        other = Receiver(wandering_m=4.0, time_constant_s=40.0, white_m=0.6)
        seen = receive(world.course, world.drive, until_s - 40.0, other, rng_of(number, "other"))
        crumbs += breadcrumbs(seen, clocks["phone-2"], "phone-2")
    if setting.imported != "no":
        track, rng = _imported(setting, number, world), rng_of(number, "import")
        crumbs += breadcrumbs(track, _import_clock(setting, rng), IMPORTED)
        if setting.imported == "alone":
            fixes = track
    return fixes, crumbs


def _kept(setting: Setting, number: int, world: World, fixes: Fixes) -> Fixes:
    """All fixes, none, or those on one side of a moment past zero."""
    if setting.positions == "all" and setting.imported != "alone":
        return fixes
    zero_s, off_s = at_s(world.drive, "zero_soc"), at_s(world.drive, "propulsion_off")
    share = float(rng_of(number, "part").uniform(0.2, 0.8))
    cut_s = zero_s + share * (off_s - zero_s)
    chosen = np.zeros(fixes.t_s.size, dtype=bool)
    if setting.positions == "first part":
        chosen = fixes.t_s < cut_s
    elif setting.positions == "last part":
        chosen = fixes.t_s > cut_s
    columns = (
        fixes.t_s, fixes.lat, fixes.lon, fixes.accuracy_m, fixes.speed_mps, fixes.heading_deg
    )  # fmt: skip
    return Fixes(*(column[chosen] for column in columns))


def _imported(setting: Setting, number: int, world: World) -> Fixes:
    """A recorder that was on long before and long after, and shows no accuracy."""
    rng = rng_of(number, "imported")
    receiver = Receiver(
        smooth=_smooth(4.0, (60.0, 600.0), rng),
        doppler_mps=0.1,
        claims=None,
        without_speed_s=() if setting.imported_speeds else EVERYWHERE,
    )
    before_s, after_s = (_any_of((240.0, 3600.0), rng) for _ in range(2))
    until_s = float(world.drive.t_s[-1]) + PARKED_S + after_s
    return receive(world.course, world.drive, until_s, receiver, rng, from_s=-before_s)


def _import_clock(setting: Setting, rng: np.random.Generator) -> Clock:
    hours = int(rng.choice(_HOURS_OFF)) if setting.imported_off_h else 0
    return Clock(START_MS, offset_ms=3_600_000.0 * hours)


def _add_altitudes(
    crumbs: list[dict[str, Any]], setting: Setting, number: int, world: World, fixes: Fixes
) -> None:
    """Heights with a drift as lasting as the position's and 1.7 times as great, and 0.5 m white."""
    rng = rng_of(number, "altitude")
    order = np.argsort(fixes.t_s, kind="stable")
    step_s = np.diff(fixes.t_s[order], prepend=fixes.t_s[order[:1]])
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
