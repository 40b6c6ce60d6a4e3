"""How well gaps are bridged: cut from whole simulated drives, whose way is known.

``python -m tests.coverage_study.gaps [--gaps 100] [--output FILE.md]``

Each drive is smoothed once. Then gaps are cut out of its track: plain ones, in which it drove on;
ones in which it also stood or crept, for which the time is put in that this takes; and ones that
end at rest. With trip readings, the car's own meter was read every two minutes.
``tests.published.real_logs`` does the same with rides that others recorded.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from simulator.course import Course, build_course
from simulator.drive import Drive
from simulator.receiver import Receiver, receive

from ebbline.measure.time.moments import Events, Moment, TimedEvent, TimedReading
from ebbline.measure.track.distances import gnss_distances
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.gap_evidence import gap_evidence
from ebbline.measure.track.gap_passages import unseen
from ebbline.measure.track.track import Track, build
from ebbline.measure.trip_meter.gap_readings import narrow_gaps
from ebbline.records.arrays import FloatArray
from ebbline.records.evidence import Event, Reading

LASTING_S = (5.0, 10.0, 20.0, 60.0, 180.0, 600.0, 1800.0)
HAPPENED = ("drove on", "stood", "stood most of it", "crept", "came to rest")
_START_S = 1_700_000_000.0
_HOURS = 1.5
_DRIVES = 3
_STEP_S = 0.1
_STOPS = 12
_EVERY_S = 120.0  # trip readings
_SIDEWAYS_MPS2 = 2.5
_BRAKES_MPS2, _STARTS_MPS2 = (1.0, 4.5), (0.8, 3.0)
_CREPT_S = 20.0  # in less time no car slows and gathers speed again


@dataclass(frozen=True, slots=True, eq=False)
class Whole:
    """A drive without gaps: its track, and the true way at its fixes (n,)."""

    track: Track
    true_m: FloatArray
    simulated: bool


@dataclass(frozen=True, slots=True)
class Bridged:
    """One gap: its true length and the interval given."""

    true_m: float
    value_m: float
    low_m: float
    high_m: float

    @property
    def inside(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low_m <= self.true_m <= self.high_m


# --- drives ---------------------------------------------------------------------------------------


@cache
def lapped() -> tuple[Whole, ...]:
    """Drives of many laps of 2.2 km."""
    corners = np.array([[-420, 190], [420, 220], [560, 0], [300, -190], [-420, -170], [-560, 20]])
    course = build_course(12.0, -38.0, 2200.0, corners.astype(float), rounding_m=60.0)
    return tuple(_driven(course, seed, 60.0) for seed in range(_DRIVES))


@cache
def open_road() -> tuple[Whole, ...]:
    """Drives over a winding road, no place of it twice."""
    rng = np.random.default_rng(8)
    turns = np.cumsum(rng.normal(0, 0.5, 400)) * 0.3
    way = np.cumsum(np.column_stack([np.cos(turns), np.sin(turns)]), axis=0)
    there = np.column_stack([way[:, 0], way[:, 1]])
    back = there[::-1] + np.array([0.0, -300.0])  # the far side, never reached
    course = build_course(12.0, -38.0, 320_000.0, np.vstack([there, back]), rounding_m=90.0)
    return tuple(_driven(course, seed, 15_000.0) for seed in range(_DRIVES))


def _driven(course: Course, seed: int, start_m: float) -> Whole:
    rng = np.random.default_rng([5, seed])
    t_s, s_m, v_mps = _drive(course, rng, start_m)
    still = np.zeros(t_s.size)
    drive = Drive(t_s, s_m, v_mps, still, still, (), ())
    seen = receive(course, drive, float(t_s[-1]), Receiver(wandering_m=3.0), rng)
    fixes = Fixes(
        device="phone",
        t_s=_START_S + seen.t_s,
        lat=seen.lat,
        lon=seen.lon,
        sigma_m=np.full(seen.t_s.size, 3.0),
        speed_mps=seen.speed_mps,
        heading_deg=seen.heading_deg,
    )
    return Whole(build(fixes), np.interp(seen.t_s, t_s, s_m), simulated=True)


def _drive(
    course: Course, rng: np.random.Generator, start_m: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Times, places and speeds of a driver who slows for corners and stops now and then."""
    n = round(_HOURS * 3600 / _STEP_S)
    grid_m = np.arange(0.0, course.length_m, 5.0)
    corner = np.sqrt(_SIDEWAYS_MPS2 / np.maximum(course.curvature_per_m(grid_m), 1e-4))
    fastest = np.minimum(np.concatenate([corner, corner]), 40.0)
    for i in range(fastest.size - 2, -1, -1):
        fastest[i] = min(fastest[i], math.sqrt(fastest[i + 1] ** 2 + 2 * 1.2 * 5.0))
    fastest = fastest[: grid_m.size].tolist()
    cruise = float(rng.uniform(14, 22))
    stops_s = np.sort(rng.uniform(100, _HOURS * 3600 - 300, _STOPS)).tolist()
    lasting_s = rng.uniform(10, 90, _STOPS).tolist()
    ripple, kicks = 0.0, rng.standard_normal(n).tolist()
    v = s = 0.0
    rows = []
    stop, until_s = 0, 0.0
    for k in range(n):
        now_s = k * _STEP_S
        rows.append((now_s, start_m + s, v))
        ripple = 0.995 * ripple + 0.12 * kicks[k]
        place = int(((start_m + s) % course.length_m) / 5.0) % len(fastest)
        wish = min(cruise + ripple, fastest[place])
        if stop < _STOPS and now_s >= stops_s[stop]:
            wish = 0.0
            if v == 0 and until_s == 0:
                until_s = now_s + lasting_s[stop]
            if until_s and now_s >= until_s:
                stop, until_s = stop + 1, 0.0
        a = min(max((wish - v) / 1.2, -2.0), 1.5)
        later = max(v + a * _STEP_S, 0.0)
        later = 0.0 if wish == 0 and later < 0.05 else later
        s += (v + later) / 2 * _STEP_S
        v = later
    columns = np.array(rows).T
    return columns[0], columns[1], columns[2]


# --- gaps -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cut:
    """A gap to be: from one fix to another, whose time is stretched by so much."""

    first: int
    last: int
    later_s: float


def cuts(whole: Whole, lasting_s: float, happened: str, rng: np.random.Generator) -> Cut | None:
    """A gap of a duration in which something happened; None where it did not work out."""
    track = whole.track
    t_s, speed, stopped = track.t_s, track.speed_mps, track.stopped
    first = int(rng.integers(30, t_s.size - 30))
    if track.gap[first - 30 : first].any() or speed[first] < 2.0:
        return None
    driven_s, later_s = lasting_s, 0.0
    if happened == "crept":
        if lasting_s < _CREPT_S:
            return None
        driven_s = lasting_s * float(rng.uniform(0.2, 0.7))
        later_s = lasting_s - driven_s
    if happened in ("stood", "stood most of it"):
        braking, starting = rng.uniform(*_BRAKES_MPS2), rng.uniform(*_STARTS_MPS2)
        ramps_s = float(speed[first] * (1 / braking + 1 / starting))
        spare_s = lasting_s - ramps_s
        if spare_s < 2:
            return None
        stood_s = spare_s if happened == "stood most of it" else float(rng.uniform(1, spare_s))
        driven_s = ramps_s / 2 + spare_s - stood_s
        later_s = lasting_s - driven_s
    last = int(np.searchsorted(t_s, t_s[first] + driven_s))
    if last >= t_s.size - 30 or last <= first or track.gap[first:last].any():
        return None
    at_rest = bool(stopped[last])
    if happened == "came to rest":
        return Cut(first, last, 0.0) if at_rest else None
    if at_rest or stopped[first:last].any() or speed[last] < 2.0:
        return None
    if happened.startswith("stood"):  # as fast after as before, or braking takes another way
        least_m = float(speed[first] ** 2 / 2 / braking + speed[last] ** 2 / 2 / starting)
        if whole.true_m[last] - whole.true_m[first] < 0.8 * least_m:
            return None
    return Cut(first, last, later_s)


def with_gap(track: Track, cut: Cut) -> Track:
    """The track without the fixes inside a gap, later by what the gap takes longer."""
    index = np.arange(track.t_s.size)
    keep = (index <= cut.first) | (index >= cut.last)
    t_s = (track.t_s + np.where(index >= cut.last, cut.later_s, 0.0))[keep]
    gap = np.zeros(t_s.size - 1, dtype=bool)
    gap[: cut.first] = track.gap[: cut.first]
    gap[cut.first] = True
    gap[cut.first + 1 :] = track.gap[cut.last :]
    position_m, velocity_mps = track.position_m[keep], track.velocity_mps[keep]
    speed_mps, stopped = track.speed_mps[keep], track.stopped[keep]
    step_m = np.diff(track.along_m[keep])
    gaps = gap_evidence(
        t_s, position_m, velocity_mps, speed_mps, stopped, gap, step_m, track.model.drift_m
    )
    return replace(
        track,
        t_s=t_s,
        position_m=position_m,
        velocity_mps=velocity_mps,
        speed_mps=speed_mps,
        along_m=track.along_m[keep],
        stopped=stopped,
        gap=gap,
        along_var_m2=track.along_var_m2[keep],
    ).with_unseen(unseen(gaps))


def bridged(whole: Whole, cut: Cut, trip: np.random.Generator | None) -> Bridged:
    """One gap's true length and what we make of it, with trip readings if there is chance given."""
    track = with_gap(whole.track, cut)
    true_m = float(whole.true_m[cut.last] - whole.true_m[cut.first])
    if trip is not None:
        track, _ = narrow_gaps(track, *_trip(whole, cut, trip))
    start = cut.first
    found = gnss_distances(track, track.t_s[[start, start + 1]]).interval(0, 1)
    assert found is not None
    return Bridged(true_m, found.value, max(found.low, 0.0), found.high)


def _trip(whole: Whole, cut: Cut, rng: np.random.Generator) -> tuple[list[TimedReading], Events]:
    """What the car's meter showed every two minutes outside the gap, in 0.1 km."""
    t_s = whole.track.t_s + np.where(np.arange(whole.true_m.size) >= cut.last, cut.later_s, 0.0)
    reset = Moment(float(t_s[5]), 0.3)
    ratio = 1 + 0.008 * float(rng.standard_normal())
    from_m = float(np.interp(reset.t_s + rng.normal(0, 0.3), t_s, whole.true_m))
    found = []
    for at_s in np.arange(t_s[0] + 60 * rng.random(), t_s[-1], _EVERY_S).tolist():
        if t_s[cut.first] < at_s < t_s[cut.last] or at_s < reset.t_s + 30:
            continue
        shown_m = ratio * float(np.interp(at_s + rng.normal(0, 0.4), t_s, whole.true_m) - from_m)
        reading = Reading(
            f"r{len(found)}", "phone", round(at_s * 1000), "trip_distance",
            round(shown_m / 1000, 1), "km", resolution=0.1,
        )  # fmt: skip
        found.append(TimedReading(reading, Moment(at_s, 0.4)))
    tapped = Event("reset", "phone", round(reset.t_s * 1000), "trip_reset")
    return found, Events([TimedEvent(tapped, reset)])


def many(
    wholes: Sequence[Whole], lasting_s: float, happened: str, count: int, *, trip: bool
) -> list[Bridged]:
    """Gaps of one kind, the same for everybody; fewer where the drives have no more of them."""
    rng = np.random.default_rng([round(lasting_s), HAPPENED.index(happened), int(trip)])
    found: list[Bridged] = []
    for _ in range(40 * count):
        whole = wholes[int(rng.integers(len(wholes)))]
        cut = cuts(whole, lasting_s, happened, rng)
        if cut is not None:
            found.append(bridged(whole, cut, rng if trip else None))
            if len(found) == count:
                break
    return found


# --- the table ------------------------------------------------------------------------------------

ROADS = {"known course": lapped, "open road": open_road}


def table(count: int) -> Iterator[str]:
    """Every road, happening and duration, without trip readings and with them."""
    yield "| road | happened | gap, s | trip read | gaps | held, % | width : truth | error, m |"
    yield "|---|---|---:|---|---:|---:|---:|---:|"
    for road, wholes in ROADS.items():
        for happened in HAPPENED:
            for lasting_s in LASTING_S:
                for trip in (False, True):
                    found = many(wholes(), lasting_s, happened, count, trip=trip)
                    if found:
                        yield _row(f"{road} | {happened} | {lasting_s:g} | {_yes(trip)}", found)


def _row(what: str, found: list[Bridged]) -> str:
    held_pct = 100 * np.mean([gap.inside for gap in found])
    width = np.median([(gap.high_m - gap.low_m) / max(gap.true_m, 1.0) for gap in found])
    error_m = np.median([abs(gap.value_m - gap.true_m) for gap in found])
    return f"| {what} | {len(found)} | {held_pct:.0f} | {width:.3f} | {error_m:,.1f} |"


def _yes(told: bool) -> str:
    return "yes" if told else "no"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table, or write it to a file."""
    parser = argparse.ArgumentParser(prog="python -m tests.coverage_study.gaps")
    parser.add_argument("--gaps", type=int, default=100, help="of each kind and duration")
    parser.add_argument("--output", type=Path, help="a Markdown file; else it is printed")
    asked = parser.parse_args(arguments)
    rows = []
    for row in table(asked.gaps):
        rows.append(row)
        print(row, file=sys.stderr if asked.output else sys.stdout, flush=True)
    if asked.output:
        asked.output.write_text("\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
