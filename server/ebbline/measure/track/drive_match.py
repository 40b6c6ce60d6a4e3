"""Whether a device's fixes hold the drive that the taps and the trip meter tell of.

A recorder may have been off, or written local time as UTC: its track then lies hours or days beside
the drive, or covers it with parked minutes, and every figure made of it is wrong however smooth it
is. The taps and readings of the drive say when it was; distances between readings of the trip
meter, the standstill and full throttle say how the car moved. Each is a statement that a track
bears out or not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.display import interval_of
from ebbline.measure.geodesy import legs_m
from ebbline.measure.time.moments import Events, TimedReading
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.units import factor
from ebbline.records.arrays import FloatArray
from ebbline.vocabulary import DRIVING_KINDS

# Taps that somebody makes while driving.
_TRIP_QUANTITIES = ("trip_distance", "trip_energy")
_MOVING = ("floored_on", "floored_off", "speed_capped", "lap_mark")
_NEAR_S = 60.0  # before the first fix and after the last one a track still holds a moment
_AFTER_STANDSTILL_S = (20.0, 80.0)
_STOOD_M = 60.0  # two receivers' worst drift within that time
_AROUND_S = 10.0
_MOVED_M = 20.0
# A track's rough length against the trip meter: by a tenth and 200 m, for corners cut between
# fixes and noise that adds to a polyline (common practice, no source).
_LENGTH_SHARE, _LENGTH_M = 0.1, 200.0
_PARKED_SHARE = 0.1  # of the way by the trip meter: what a parked receiver's drift may add up to
_ROUGH_STEP_S = 5.0  # a polyline this coarse hardly grows with noise
_LEAST_LEG_M = 300.0
_FEW = 3  # statements; with fewer nothing is concluded

_QUARTER_S = 900.0  # clocks are set to zones, all of which are whole quarters of an hour off UTC
_ZONES_S = _QUARTER_S * np.arange(-56, 57)  # 14 hours either way
_DAY_S = 86_400.0
_GOOD, _POOR = 0.8, 0.5  # shares of the statements that a track bears out


@dataclass(frozen=True, slots=True, eq=False)
class DriveTold:
    """What taps and readings say of the drive, in session time.

    ``at_s`` (n,): moments within it; ``moving_s`` (m,) at which the car moved and ``stood_s`` (k,)
    from which it stood; ``legs_s`` (l, 2) pairs of moments between which it came ``legs_m`` (l,).
    """

    at_s: FloatArray
    moving_s: FloatArray
    stood_s: FloatArray
    legs_s: FloatArray
    legs_m: FloatArray


@dataclass(frozen=True, slots=True)
class Match:
    """How many of the drive's statements a track bears out."""

    borne_out: int
    of: int

    @property
    def share(self) -> float:
        """Between 0 and 1; 1 where too little is told to conclude anything."""
        return 1.0 if self.of < _FEW else self.borne_out / self.of


def told_of_drive(events: Events, readings: list[TimedReading]) -> DriveTold:
    """What can be held against a track: everything up to the plug."""
    plugged = events.first("plug_in") or events.first("charge_start")
    until_s = plugged.moment.t_s if plugged else np.inf
    taps = [t for t in events if t.event.kind in DRIVING_KINDS and t.moment.t_s < until_s]
    shown = [
        r for r in readings if r.reading.quantity in _TRIP_QUANTITIES and r.moment.t_s < until_s
    ]
    legs_s, legs_m = _legs(events, [r for r in shown if r.reading.quantity == "trip_distance"])
    return DriveTold(
        at_s=np.sort(np.array([t.moment.t_s for t in taps] + [r.moment.t_s for r in shown])),
        moving_s=np.array([t.moment.t_s for t in taps if t.event.kind in _MOVING]),
        stood_s=np.array([t.moment.t_s for t in taps if t.event.kind == "standstill"]),
        legs_s=legs_s,
        legs_m=legs_m,
    )


def _legs(events: Events, trips: list[TimedReading]) -> tuple[FloatArray, FloatArray]:
    """Moments (l, 2) and lengths (l,) between readings far enough apart since the same reset."""
    moments, lengths = [], []
    previous: tuple[float, float, object] | None = None
    for timed in sorted(trips, key=lambda entry: entry.moment.t_s):
        shown_m = float(np.mean(interval_of(timed.reading))) * factor(timed.reading.unit, "m")
        here = (timed.moment.t_s, shown_m, events.last("trip_reset", timed.moment.t_s))
        if previous is None or previous[2] is not here[2]:
            previous = here
        elif here[1] - previous[1] >= _LEAST_LEG_M:
            moments.append((previous[0], here[0]))
            lengths.append(here[1] - previous[1])
            previous = here
    return np.array(moments).reshape(-1, 2), np.array(lengths)


def match(fixes: Fixes, told: DriveTold) -> Match:
    """How much of what is told a device's fixes (n,) bear out, n >= 2."""
    return _match(_Rough.of(fixes), told)


def misses(fixes: Fixes, told: DriveTold) -> bool:
    """Whether the fixes are of another time than the drive.

    A phone that fell asleep during the drive misses its end, not the drive: a track is only said
    to miss it where none of the drive's moments lies within it, where it stood all the while, or
    where the track as a whole fits far better at another hour or day.
    """
    if told.at_s.size < _FEW:
        return False
    if not np.any(_Rough.of(fixes).holds(told.at_s)) or stood_all_the_while(fixes, told):
        return True
    return clock_shift_s(fixes, told) is not None


def stood_all_the_while(fixes: Fixes, told: DriveTold) -> bool:
    """Whether there are fixes throughout where the trip meter ran on, all of a car that stood."""
    rough = _Rough.of(fixes)
    seen = rough.throughout(told.legs_s)
    way_m = float(np.sum(rough.way_m(*told.legs_s[seen].T)))
    shown_m = float(np.sum(told.legs_m[seen]))
    nowhere = not np.any(_moved(rough, told))
    return bool(np.count_nonzero(seen) >= _FEW and nowhere and way_m < _PARKED_SHARE * shown_m)


def clock_shift_s(fixes: Fixes, told: DriveTold) -> float | None:
    """The whole quarters of an hour, and days, by which a clock seems to be behind; None: none.

    The fixes must bear out little as they are stamped and nearly everything when they are moved:
    of how the car moved, since hours of parking hold every moment of a drive.
    """
    rough = _Rough.of(fixes)
    if told.at_s.size < _FEW or _telling_share(rough, told) > _POOR:
        return None
    apart_s = float(np.mean(told.at_s[[0, -1]]) - np.mean(fixes.t_s[[0, -1]]))
    days_s = _DAY_S * np.round(apart_s / _DAY_S)
    tried_s = np.unique(np.concatenate([_ZONES_S, days_s + _ZONES_S]))
    tried_s = tried_s[tried_s != 0]
    tried_s = tried_s[np.argsort(np.abs(tried_s), kind="stable")]
    shares = [
        min(_match(moved, told).share, _telling_share(moved, told))
        for moved in (rough.moved(float(shift_s)) for shift_s in tried_s)
    ]
    best = int(np.argmax(shares))
    return float(tried_s[best]) if shares[best] >= _GOOD else None


def _telling_share(rough: _Rough, told: DriveTold) -> float:
    """The share borne out of what tells of moving; of all, where that is too little."""
    motion = _motion(rough, told)
    return motion.share if motion.of >= _FEW else _match(rough, told).share


def _match(rough: _Rough, told: DriveTold) -> Match:
    held, motion = rough.holds(told.at_s), _motion(rough, told)
    return Match(int(np.count_nonzero(held)) + motion.borne_out, held.size + motion.of)


def _motion(rough: _Rough, told: DriveTold) -> Match:
    """What is told of how the car moved, but for what falls into a gap of the track."""
    early_s, late_s = (told.stood_s + after_s for after_s in _AFTER_STANDSTILL_S)
    judged = rough.holds(late_s)  # after its end a track says nothing of how long the car stood
    judged &= ~rough.unseen(np.column_stack([early_s, late_s]))
    stood = rough.way_m(early_s, late_s)[judged] <= _STOOD_M
    legs_s, legs_m = (of_all[~rough.unseen(told.legs_s)] for of_all in (told.legs_s, told.legs_m))
    as_shown = np.abs(rough.way_m(*legs_s.T) - legs_m) <= _LENGTH_SHARE * legs_m + _LENGTH_M
    statements = [_moved(rough, told), stood, as_shown]
    return Match(
        sum(int(np.count_nonzero(each)) for each in statements),
        sum(each.size for each in statements),
    )


def _moved(rough: _Rough, told: DriveTold) -> np.ndarray:
    """At which of the moments (m,) that tell of moving it moved; those in a gap aren't judged."""
    spans_s = np.column_stack([told.moving_s - _AROUND_S, told.moving_s + _AROUND_S])
    return np.asarray(rough.way_m(*spans_s[~rough.unseen(spans_s)].T) >= _MOVED_M)


def common_way_m(one: Fixes, other: Fixes, told: DriveTold) -> tuple[float, float]:
    """The rough way by each of two tracks over the part of the drive that both hold, metres.

    The drive is what lies between the first and the last moment told of it.
    """
    if told.at_s.size < _FEW:
        return 0.0, 0.0
    tracks = _Rough.of(one), _Rough.of(other)
    from_s = max(told.at_s[0], *(rough.t_s[0] for rough in tracks))
    to_s = min(told.at_s[-1], *(rough.t_s[-1] for rough in tracks))
    if to_s <= from_s:
        return 0.0, 0.0
    ours, theirs = (float(rough.way_m(from_s, to_s)) for rough in tracks)
    return ours, theirs


@dataclass(frozen=True, slots=True, eq=False)
class _Rough:
    """A track as a coarse polyline: moments (n,) and the way (n,) up to each."""

    t_s: FloatArray
    along_m: FloatArray

    @classmethod
    def of(cls, fixes: Fixes) -> _Rough:
        bins = np.floor((fixes.t_s - fixes.t_s[0]) / _ROUGH_STEP_S)
        kept = np.flatnonzero(np.diff(bins, prepend=-1.0) > 0)
        kept = np.unique(np.append(kept, fixes.t_s.size - 1))
        way_m = np.concatenate([[0.0], np.cumsum(legs_m(fixes.lat[kept], fixes.lon[kept]))])
        return cls(fixes.t_s[kept], way_m)

    def moved(self, by_s: float) -> _Rough:
        """The same track at other moments."""
        return _Rough(self.t_s + by_s, self.along_m)

    def holds(self, t_s: FloatArray) -> np.ndarray:
        """Which moments (k,) lie within the track, or a minute beside it."""
        return np.asarray((t_s >= self.t_s[0] - _NEAR_S) & (t_s <= self.t_s[-1] + _NEAR_S))

    def throughout(self, spans_s: FloatArray) -> np.ndarray:
        """Which spans (l, 2) lie within the track and touch no step of more than a minute."""
        within = (spans_s[:, 0] >= self.t_s[0]) & (spans_s[:, 1] <= self.t_s[-1])
        return np.asarray(within & ~self.unseen(spans_s))

    def unseen(self, spans_s: FloatArray) -> np.ndarray:
        """Which spans (l, 2) touch a step of more than a minute: of them it tells little."""
        long = np.concatenate([[0], np.cumsum(np.diff(self.t_s) > _NEAR_S)])
        first = np.searchsorted(self.t_s, spans_s[:, 0], side="right") - 1
        last = np.searchsorted(self.t_s, spans_s[:, 1])
        most = self.t_s.size - 1
        return np.asarray(long[np.clip(last, 0, most)] != long[np.clip(first, 0, most)])

    def way_m(self, from_s: FloatArray, to_s: FloatArray) -> FloatArray:
        """The way between pairs of moments (k,); nothing beyond the ends."""
        way_m = np.interp(to_s, self.t_s, self.along_m) - np.interp(from_s, self.t_s, self.along_m)
        return np.asarray(way_m)
