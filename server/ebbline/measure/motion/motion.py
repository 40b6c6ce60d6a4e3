"""The run's distance and speed against time, by whatever tells them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ebbline.measure.laps.ruler import Ruler, distances_at
from ebbline.measure.motion.driving_time import driving_time
from ebbline.measure.motion.trip_bounds import trip_bounds
from ebbline.measure.motion.trip_curve import Positions, TripCurve, trip_curve
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.measure.track.covariance import speed_sd
from ebbline.measure.track.distances import Distances
from ebbline.measure.track.drive_match import told_of_drive
from ebbline.measure.track.gap_passages import Passages
from ebbline.measure.track.steps import LONG_S
from ebbline.measure.track.track import Track
from ebbline.records.arrays import BoolArray, FloatArray
from ebbline.records.result import Finding

FINE_S = 1.0  # as often as an ordinary receiver tells of a speed
MOST_PARTS = 60  # a track of fixes minutes apart has no gaps, and little to be told between them
_MARGIN_S = 60.0  # around the first and the last moment that taps or readings tell of


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Moments ``t_s`` (n,), speeds at them (n,), and which steps (n-1,) between them are gaps in
    the track or beyond it.
    """

    t_s: FloatArray
    speed_mps: FloatArray
    gap: BoolArray
    unseen: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """Distance and speed on one line of moments ``t_s`` (n,), rising.

    ``speed_mps`` (n,) is what the car did, or most likely did; ``gap`` (n-1,) marks the steps that
    no fix encloses within the track, ``unseen`` (n-1,) those beyond it. ``beyond`` is None where
    positions tell all there is to place.
    """

    track: Track | None
    ruler: Ruler | None
    beyond: TripCurve | None
    t_s: FloatArray
    speed_mps: FloatArray
    gap: BoolArray
    unseen: BoolArray

    @classmethod
    def by_positions(cls, track: Track, ruler: Ruler | None = None) -> Motion:
        """As the track alone has it."""
        nothing = np.zeros(track.gap.size, dtype=bool)
        return cls(track, ruler, None, track.t_s, track.speed_mps, track.gap, nothing)

    def finely(self) -> Line:
        """The same line with moments a second apart in its long steps, in which a car brakes and
        speeds up between two fixes. Gaps and what nobody saw stay single steps.
        """
        if self.track is None:
            return Line(self.t_s, self.speed_mps, self.gap, self.unseen)
        step_s = np.diff(self.t_s)
        parts = np.where(self.gap | self.unseen, 1, np.ceil(step_s / FINE_S))
        parts = np.minimum(parts, MOST_PARTS).astype(int)
        parts[step_s <= LONG_S] = 1
        leg = np.repeat(np.arange(step_s.size), parts)
        first = np.concatenate([[0], np.cumsum(parts)[:-1]])
        share = (np.arange(leg.size) - first[leg]) / parts[leg]
        t_s = np.append(self.t_s[leg] + share * step_s[leg], self.t_s[-1])
        speed_mps = np.append(self.speed_mps[leg], self.speed_mps[-1])
        inner = np.flatnonzero(share > 0)
        speed_mps[inner] = self.track.speed_at(t_s[inner])
        return Line(t_s, speed_mps, self.gap[leg], self.unseen[leg])

    @property
    def passages(self) -> tuple[Passages, ...]:
        """What the car may have done in each gap, in the order of ``gap``."""
        return self.track.unseen.passages if self.track else ()

    @property
    def tells_distance(self) -> bool:
        """Whether anything says how far the car came, not only how long it drove."""
        return self.track is not None or (
            self.beyond is not None and self.beyond.process is not None
        )

    def drives(self, t_s: FloatArray) -> BoolArray:
        """Which moments (k,) lie on the line at all, whether or not their distance is known."""
        held = (t_s >= self.t_s[0]) & (t_s <= self.t_s[-1])
        return np.asarray(held | self.covers(t_s))

    def covers(self, t_s: FloatArray) -> BoolArray:
        """Which moments (k,) have a distance."""
        covered = np.zeros(t_s.size, dtype=bool)
        if self.track is not None:
            covered |= self.track.covers(t_s)
        if self.beyond is not None:
            covered |= self.beyond.covers(t_s)
        return covered

    def along_at(self, t_s: FloatArray) -> FloatArray:
        """Distance at moments (k,), metres, by GNSS alone where that tells it; NaN uncovered."""
        if self.beyond is None:
            assert self.track is not None
            return self.track.along_at(t_s)
        along_m = np.zeros(t_s.size)
        if self.track is not None:
            along_m += self.track.along_at(np.clip(t_s, self.track.t_s[0], self.track.t_s[-1]))
        if self.beyond.process is not None:
            along_m += self.beyond.beyond(t_s)[0]
        return np.where(self.covers(t_s), along_m, np.nan)

    def speed_at(self, t_s: FloatArray) -> FloatArray:
        """Speed at moments (k,), m/s; NaN where there is no distance."""
        if self.beyond is None:
            assert self.track is not None
            return self.track.speed_at(t_s)
        return np.where(self.covers(t_s), np.interp(t_s, self.t_s, self.speed_mps), np.nan)

    def seen_speed(self, t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Speed at moments (k,) and its standard deviation, m/s; zeros where no fix was near."""
        speed_mps, sd_mps = np.zeros(t_s.size), np.zeros(t_s.size)
        track = self.track
        if track is not None:
            seen = (t_s >= track.t_s[0]) & (t_s <= track.t_s[-1]) & ~track.gap[track.leg_at(t_s)]
            speed_mps[seen] = track.speed_at(t_s[seen])
            sd_mps[seen] = speed_sd(track, t_s[seen])
        return speed_mps, sd_mps

    def distances(self, t_s: FloatArray) -> Distances:
        """Distances at moments (k,) with all that is known of their errors together."""
        if self.beyond is None:
            assert self.track is not None
            return distances_at(self.track, t_s, self.ruler)
        if self.beyond.process is None and self.track is not None:
            return distances_at(self.track, t_s, self.ruler)
        known = np.where(self.covers(t_s), 0.0, np.nan)
        if self.beyond.process is None:
            nothing = np.zeros((1, t_s.size))
            return Distances(t_s, known * 0 + np.nan, np.diag(known), nothing)
        beyond_m, covariance = self.beyond.beyond(t_s)
        if self.track is None:
            return Distances(t_s, beyond_m + known, covariance, np.zeros((1, t_s.size)))
        found = Positions(self.track, self.ruler).distances(t_s)
        return Distances(
            t_s,
            found.along_m + beyond_m + known,
            found.covariance + covariance,
            found.apart_m,
        )

    def ends_s(self) -> FloatArray:
        """The first and the last moment at which the way is known, (2,)."""
        known_s = [] if self.track is None else [self.track.t_s[0], self.track.t_s[-1]]
        if self.beyond is not None and self.beyond.process is not None:
            known_s = [*known_s, self.beyond.known_s[0], self.beyond.known_s[-1]]
        return np.array([min(known_s), max(known_s)], dtype=float)

    def basis(self, moments: Iterable[Moment]) -> str:
        """What the way between moments is known by."""
        if self.track is None:
            return "trip_meter"
        at_s = np.array([moment.t_s for moment in moments])
        return "positions" if np.all(self.track.covers(at_s)) else "both"


def motion_of(
    track: Track | None, ruler: Ruler | None, events: Events, readings: list[TimedReading]
) -> tuple[Motion | None, list[Finding]]:
    """The track where it holds all that taps and readings tell of the drive; beyond it, or without
    it, the car's own meter. None where nothing tells of a drive.
    """
    told_s = told_of_drive(events, readings).at_s
    if track is not None and (told_s.size == 0 or np.all(track.covers(told_s))):
        return Motion.by_positions(track, ruler), []
    bounds, findings = trip_bounds(events, readings)
    if track is not None and not bounds:
        return Motion.by_positions(track, ruler), findings
    if track is None and told_s.size < 2:
        return None, [*findings, _nothing()]
    ends_s = [told_s[0] - _MARGIN_S, told_s[-1] + _MARGIN_S] if told_s.size else []
    ends_s += [moment.t_s for bound in bounds for moment in (bound.moment, bound.since)]
    known = None
    if track is not None:
        ends_s += [float(track.t_s[0]), float(track.t_s[-1])]
        at_s = np.array(ends_s)
        covered_s = at_s[track.covers(at_s)]
        known = (
            min(float(track.t_s[0]), float(np.min(covered_s, initial=np.inf))),
            max(float(track.t_s[-1]), float(np.max(covered_s, initial=-np.inf))),
        )
    driving = driving_time(events, float(min(ends_s)), float(max(ends_s)), known)
    curve = trip_curve(bounds, driving, Positions(track, ruler) if track is not None else None)
    motion = _on_one_line(track, ruler, curve)
    return motion, [*findings, _said(motion)]


def _on_one_line(track: Track | None, ruler: Ruler | None, curve: TripCurve) -> Motion:
    """The moments of the track with even ones before and after it; speeds at all of them."""
    grid_s = curve.driving.t_s
    if curve.process is None:
        way_m = curve.pace_mps * curve.driving.driven_s
    else:
        way_m = curve.beyond(grid_s)[0]
    speed_mps = np.maximum(np.gradient(way_m, grid_s), 0.0)
    if track is None:
        steps = np.ones(grid_s.size - 1, dtype=bool)
        return Motion(None, None, curve, grid_s, speed_mps, ~steps, steps)
    before, after = grid_s < track.t_s[0], grid_s > track.t_s[-1]
    early, late = int(np.count_nonzero(before)), int(np.count_nonzero(after))
    return Motion(
        track=track,
        ruler=ruler,
        beyond=curve,
        t_s=np.concatenate([grid_s[before], track.t_s, grid_s[after]]),
        speed_mps=np.concatenate([speed_mps[before], track.speed_mps, speed_mps[after]]),
        gap=np.concatenate(
            [np.zeros(early, dtype=bool), track.gap, np.zeros(late, dtype=bool)]
        ),
        unseen=np.concatenate(
            [np.ones(early, dtype=bool), np.zeros(track.gap.size, dtype=bool),
             np.ones(late, dtype=bool)]
        ),
    )  # fmt: skip


def _said(motion: Motion) -> Finding:
    assert motion.beyond is not None
    count = motion.beyond.readings
    meter = f"{count} {'reading' if count == 1 else 'readings'} of the car's own meter"
    if motion.beyond.process is None:
        return _nothing()
    if motion.track is None:
        return Finding(
            "note",
            "distance_by_trip_meter",
            f"No positions of the drive are on record. Distances follow from {meter} and the "
            f"moments between them, and hold as far as the meter does: to about 3 %. Speeds are "
            f"not known.",
            "readings of trip_distance",
        )
    return Finding(
        "note",
        "distance_joined",
        f"The positions don't hold all of the drive. Beyond them distances follow from {meter}.",
        "readings of trip_distance",
    )


def _nothing() -> Finding:
    return Finding(
        "error",
        "no_track",
        "Neither positions nor the car's trip meter tell how far it came, so there is no distance "
        "and no speed.",
        "breadcrumbs",
    )
