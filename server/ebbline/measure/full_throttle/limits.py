"""What the car still gave at full throttle: the speed it settled at, and the power that takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure import naming, quantity
from ebbline.measure.full_throttle.grade import GradeAt
from ebbline.measure.full_throttle.power import climb_kw_per_pct, pack_kw, road_load_kw, wheels_kw
from ebbline.measure.numerics.running_mean import running_mean
from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment
from ebbline.measure.track.distances import gnss_distances
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.result import Finding, Limit, Quantity
from ebbline.records.setup import Vehicle

STEADY_MPS2 = 0.12  # less change than this is no longer gaining speed
PLATEAU_S = 5.0  # a shorter stretch is no plateau
CORNER_MPS2 = 1.5  # more sideways than this and the corner may hold the speed down
SETTLED_SD_MPS = 0.05  # how steadily a car holds its top speed (common practice, no source)
FELL_MPS = 1.0  # a speed that falls by this much after its plateau: its limit has been lowered
_WINDOW_AFTER_CAP_S = 15.0
_LIFTED_S = 2.0  # before the tap that ends a stretch the pedal may be up already


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of full throttle, by two taps or around a 'top speed capped'."""

    from_s: float
    to_s: float
    where: str


def limits_of(
    run: Run, zero: Moment | None, vehicle: Vehicle, grade_at: GradeAt
) -> tuple[tuple[Limit, ...], list[Finding]]:
    """One entry per stretch of full throttle, in order.

    ``grade_at`` tells the grade in % under a stretch from one moment to another, None if unknown.
    """
    if run.track is None:
        return (), []
    limits = []
    findings: list[Finding] = []
    windows = full_throttle_windows(run)
    for window in windows:
        plateau, doubts = _plateau(run.track, window)
        findings += doubts
        limits.append(_limit(run, window, plateau, zero, vehicle, grade_at))
    if windows and vehicle.road_load is None:
        findings.append(
            Finding(
                "note",
                "no_road_load",
                "The car's road load is not known, so the speeds when floored have no power beside "
                "them.",
                "vehicle.road_load",
            )
        )
    findings += _level_assumed(limits, vehicle)
    return tuple(limits), findings


def _level_assumed(limits: list[Limit], vehicle: Vehicle) -> list[Finding]:
    at = [limit.speed_mps for limit in limits if limit.wheels_kw and not limit.grade_pct]
    speeds = [speed for speed in at if speed is not None]
    if not speeds:
        return []
    per_pct_kw = climb_kw_per_pct(max(speeds, key=lambda speed: speed.value), vehicle)
    return [
        Finding(
            "note",
            "level_assumed",
            "Nothing tells the grade where the throttle was floored, so its power is for level "
            f"ground; at the fastest, each 1 % of grade would make {per_pct_kw:.1f} kW of "
            "difference.",
            "course.full_throttle_grade_pct",
        )
    ]


def full_throttle_windows(run: Run) -> list[Window]:
    """Pairs of floored on and off; a 'capped' away from them gets a stretch of its own."""
    windows = []
    pressed = None
    for timed in run.events:
        kind = timed.event.kind
        if kind == "floored_on":
            pressed = timed
        elif pressed is not None and kind in ("floored_off", "propulsion_off"):
            where = f"events {pressed.event.id} to {timed.event.id}"
            windows.append(Window(pressed.moment.t_s, timed.moment.t_s, where))
            pressed = None
    for timed in run.events:
        if timed.event.kind != "speed_capped":
            continue
        from_s, to_s = timed.moment.t_s - 3.0, timed.moment.t_s + _WINDOW_AFTER_CAP_S
        if not any(w.from_s <= to_s and from_s <= w.to_s for w in windows):
            windows.append(Window(from_s, to_s, f"event {timed.event.id}"))
    return sorted(windows, key=lambda window: window.from_s)


def _plateau(
    track: Track, window: Window
) -> tuple[tuple[float, float, Quantity] | None, list[Finding]]:
    """The last steady stretch of a window, its ends and speed, and what to doubt about it."""
    inside = (track.t_s >= window.from_s) & (track.t_s <= window.to_s)
    index = np.flatnonzero(inside)
    if index.size < 4:
        return None, [_doubt("no_fixes_at_full_throttle", "there are too few positions", window)]
    t_s, speed = track.t_s[index], track.speed_mps[index]
    change = np.gradient(running_mean(t_s, speed), t_s)
    steady = np.abs(change) < STEADY_MPS2
    long_enough = [
        (first, last) for first, last in stretches(steady) if t_s[last] - t_s[first] >= PLATEAU_S
    ]
    if not long_enough:
        return None, [_doubt("still_changing", "the speed did not settle", window)]
    first, last = long_enough[-1]
    chosen = index[first : last + 1]
    doubts = []
    if float(np.median(_sideways(track)[chosen])) > CORNER_MPS2:
        doubts.append(
            _doubt("cornering", "the car was in a corner, which may have held it", window)
        )
    figure = _mean_speed(track, chosen)
    if figure is None:
        return None, doubts
    later = speed[last + 1 :][t_s[last + 1 :] <= window.to_s - _LIFTED_S]
    fell_mps = figure.value - float(np.min(later, initial=math.inf))
    if fell_mps > FELL_MPS:
        held, lost = naming.speed(figure.value), naming.speed(fell_mps)
        fell = f"the car held {held}, then lost {lost} of it"
        doubts.append(_doubt("fell_again", fell, window))
    return (float(track.t_s[chosen[0]]), float(track.t_s[chosen[-1]]), figure), doubts


def _mean_speed(track: Track, chosen: IntArray) -> Quantity | None:
    """Mean speed over fixes (k,) in a row: the way between its ends, and what it still changed."""
    ends_s = track.t_s[[chosen[0], chosen[-1]]]
    lasting_s = float(ends_s[1] - ends_s[0])
    way_m, noise_m = gnss_distances(track, ends_s).between(0, 1)
    slope_mps2 = float(np.polyfit(track.t_s[chosen] - ends_s[0], track.speed_mps[chosen], 1)[0])
    settling_mps = abs(slope_mps2) * lasting_s / math.sqrt(12)
    sd_mps = math.hypot(noise_m / lasting_s, settling_mps, SETTLED_SD_MPS)
    return quantity.normal(way_m / lasting_s, sd_mps, floor=0.0)


def _limit(
    run: Run,
    window: Window,
    plateau: tuple[float, float, Quantity] | None,
    zero: Moment | None,
    vehicle: Vehicle,
    grade_at: GradeAt,
) -> Limit:
    from_s, to_s = (plateau[0], plateau[1]) if plateau else (window.from_s, window.to_s)
    speed = plateau[2] if plateau else None
    past_zero = energy = None
    if zero is not None:
        middle = Moment((from_s + to_s) / 2, 0.0)
        placed = run.distances([zero, middle])
        past_zero = placed.between(0, 1) if placed else None
        energy = run.energy_between(zero, [middle])[0]
    load = vehicle.road_load
    grade = grade_at(from_s, to_s) if plateau else None
    level = road_load_kw(speed, load) if speed and load else None
    wheels = wheels_kw(level, speed, grade, vehicle) if speed and level else None
    return Limit(
        from_ms=round(from_s * 1000),
        to_ms=round(to_s * 1000),
        speed_mps=speed,
        road_load_kw=level,
        past_zero_m=past_zero,
        energy_past_zero_kwh=energy,
        grade_pct=grade,
        wheels_kw=wheels,
        pack_kw=pack_kw(wheels, load) if wheels and load else None,
    )


def _sideways(track: Track) -> FloatArray:
    """Sideways acceleration at the fixes (n,), m/s²."""
    heading = np.unwrap(np.arctan2(track.velocity_mps[:, 0], track.velocity_mps[:, 1]))
    return np.asarray(np.abs(track.speed_mps * np.gradient(heading, track.t_s)))


def _doubt(code: str, problem: str, window: Window) -> Finding:
    return Finding(
        "doubt",
        code,
        f"Floored for {window.to_s - window.from_s:.0f} s {problem}; read its speed with care.",
        window.where,
    )
