"""How the car may have gone through the gaps: many possibilities, as likely as each other.

A page is hidden by a phone call, a picture, a locked screen; meanwhile the car may have driven on,
slowed, coasted to rest, or stood. What a gap's length can be is therefore no bell curve: from what
the chord demands up to what the speeds allow, and on a course that is known only whole laps more
than the shortest way. So the gaps are carried as an ensemble. One possibility goes through all gaps
with one inclination to stand, which nobody knows beforehand (evenly spread, Laplace's rule of
succession): many gaps without a stand are then as thinkable as many with one, and their
uncertainties don't average out as if they were independent.

Evidence narrows the ensemble, nothing else does: speeds and place at both ends (here), taps
(``gap_taps``), the car's trip meter (``trip_meter.gap_readings``), a second phone (which fills the
gap). tests/coverage_study tries it on gaps cut from simulated and real drives.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from ebbline.measure.track.gap_evidence import GapEvidence
from ebbline.records.arrays import BoolArray, FloatArray, IntArray

POSSIBILITIES = 1024
# All of the following by common practice, no source; tests/coverage_study holds them against gaps
# cut from real rides. From a gentle driver to a hurried one, m/s²:
_BRAKES_MPS2 = (0.8, 5.0)
_COASTING_MPS2 = (0.08, 1.0)
_SETTLES_S = 3.0  # time to spare, beyond braking and starting, in which a stand becomes likely
# A car at its usual speed at both ends stands in two of five gaps, a slow one in three of four.
_MOVING_ON, _SLOW_SHARE, _AT_REST = 1.5, 0.7, 0.3
_NOTHING_ELSE = 0.5  # of those that stood came no further than straight across
# What an interval leaves out at either end is 2.5 % of all possibilities, so a larger part of those
# that stood and of those that didn't; their own spreads make up for it.
_NEAR_AGAIN = 0.1  # the least that being seen so near again takes of a chance to have driven on
_WIDER_ONWARD, _WIDER_STOOD = 1.15, 1.7
_ON_COURSE = 0.97  # a car that passed both ends on other laps went the same way
_ON_COURSE_LAP_UNKNOWN = 0.6
_PARKED_SD_M = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Passages:
    """Ways through one gap, (n,) each: the car waits ``wait_s``, goes for ``go_s``, stands for
    ``stand_s`` and goes on to the gap's end, ``length_m`` in all.
    """

    gap: GapEvidence
    length_m: FloatArray
    wait_s: FloatArray
    go_s: FloatArray
    stand_s: FloatArray

    @property
    def moving_s(self) -> FloatArray:
        """How long it was on the move, (n,)."""
        return np.asarray(self.gap.lasting_s - self.wait_s - self.stand_s)

    def part(self, rows: IntArray) -> Passages:
        """Some of the possibilities, some perhaps more than once."""
        columns = (self.length_m, self.wait_s, self.go_s, self.stand_s)
        return Passages(self.gap, *(column[rows] for column in columns))

    def way_m(self, t_s: float) -> FloatArray:
        """How far into the gap the car had come at a moment, (n,); none before, all after."""
        into_s = t_s - self.gap.from_s
        if into_s <= 0:
            return np.zeros(self.length_m.size)
        if into_s >= self.gap.lasting_s:
            return self.length_m
        gone_s = np.clip(into_s - self.wait_s, 0, self.go_s)
        gone_s += np.maximum(into_s - self.wait_s - self.go_s - self.stand_s, 0)
        share = gone_s / np.maximum(self.moving_s, 1e-6)
        return self.length_m * share_of_way(self.gap, share, self.moving_s, self.length_m)


@dataclass(frozen=True, slots=True, eq=False)
class Unseen:
    """All gaps of a track, in order of time: possibility k of one goes with k of the others."""

    passages: tuple[Passages, ...] = ()

    def lengths_m(self) -> FloatArray:
        """The gaps' lengths as the track takes them, the median of each."""
        return np.array([float(np.median(gap.length_m)) for gap in self.passages])

    def apart_m(self, t_s: FloatArray) -> FloatArray:
        """Distance since the first fix at moments (k,), less the track's own: (n, k)."""
        if not self.passages:
            return np.zeros((1, t_s.size))
        apart_m = np.zeros((self.passages[0].length_m.size, t_s.size))
        for passages, taken_m in zip(self.passages, self.lengths_m(), strict=True):
            gap = passages.gap
            beyond = t_s >= gap.from_s + gap.lasting_s
            apart_m[:, beyond] += (passages.length_m - taken_m)[:, None]
            for k in np.flatnonzero(~beyond & (t_s > gap.from_s)):
                share = np.array([(t_s[k] - gap.from_s) / gap.lasting_s])
                way_m = taken_m * share_of_way(gap, share, gap.lasting_s, taken_m)
                apart_m[:, k] += passages.way_m(float(t_s[k])) - way_m
        return apart_m

    def speeds_apart_mps(self, t_s: FloatArray) -> FloatArray:
        """Speed at moments (k,), less what is interpolated between the fixes: (n, k)."""
        if not self.passages:
            return np.zeros((1, t_s.size))
        apart_mps = np.zeros((self.passages[0].length_m.size, t_s.size))
        for passages in self.passages:
            gap = passages.gap
            for k in np.flatnonzero((t_s > gap.from_s) & (t_s < gap.from_s + gap.lasting_s)):
                at_s = np.clip(
                    t_s[k] + np.array([-0.5, 0.5]), gap.from_s, gap.from_s + gap.lasting_s
                )
                way_m = passages.way_m(float(at_s[1])) - passages.way_m(float(at_s[0]))
                share = (t_s[k] - gap.from_s) / gap.lasting_s
                between_mps = gap.start_mps + share * (gap.end_mps - gap.start_mps)
                apart_mps[:, k] = way_m / (at_s[1] - at_s[0]) - between_mps
        return apart_mps

    def part(self, rows: IntArray) -> Unseen:
        """Some of the possibilities."""
        return Unseen(tuple(passages.part(rows) for passages in self.passages))


def share_of_way(
    gap: GapEvidence,
    share: FloatArray,
    moving_s: FloatArray | float,
    length_m: FloatArray | float,
) -> FloatArray:
    """Of the way through a gap, after a share of the time on the move: 0 to 1, never falling.

    The cubic with the speeds at both ends, as far as it rises throughout.
    """
    start, end = share_slopes(gap, moving_s, length_m)
    left = 1 - share
    return np.asarray(start * share * left**2 + share**2 * (3 - 2 * share) - end * share**2 * left)


def share_slopes(
    gap: GapEvidence, moving_s: FloatArray | float, length_m: FloatArray | float
) -> tuple[FloatArray, FloatArray]:
    """The speeds at both ends per mean speed, kept to three times of it: so far a cubic with them
    never falls (Fritsch and Carlson 1980, from memory).
    """
    per_mean = moving_s / np.maximum(length_m, 1e-6)
    return np.minimum(gap.start_mps * per_mean, 3.0), np.minimum(gap.end_mps * per_mean, 3.0)


def unseen(gaps: Iterable[GapEvidence]) -> Unseen:
    """The possibilities by what the track says of each gap; deterministic."""
    inclination = even_chances(POSSIBILITIES)
    return Unseen(tuple(passages(gap, inclination) for gap in gaps))


def even_chances(n: int) -> FloatArray:
    """Chances (n,) between 0 and 1, evenly spread and rising."""
    return np.asarray((np.arange(n) + 0.5) / n)


def passages(gap: GapEvidence, inclination: FloatArray) -> Passages:
    """Ways through a gap by cars of these inclinations to stand, (n,), 0 to 1; deterministic."""
    rng = np.random.default_rng(gap.start)
    n = inclination.size
    chances = even_chances(n)

    def even() -> FloatArray:
        return chances[rng.permutation(n)]

    if gap.parked:
        still = np.zeros(n)
        going_s = np.full(n, gap.lasting_s)
        sd_m = np.hypot(_PARKED_SD_M, gap.chord_m / 2)
        return Passages(gap, np.maximum(sd_m * ndtri(even()), 0.0), still, going_s, still)
    braking_s, starting_s = (
        speed_mps / (_BRAKES_MPS2[0] + (_BRAKES_MPS2[1] - _BRAKES_MPS2[0]) * even())
        for speed_mps in (gap.start_mps, gap.end_mps)
    )
    straight_m = np.maximum(gap.chord_m + _WIDER_STOOD * gap.chord_sd_m * ndtri(even()), 0.0)
    pace_mps = gap.pace_mps + _WIDER_ONWARD * gap.pace_sd_mps * stdtrit(gap.pace_dof, even())
    onward_m = _most_m(gap, np.clip(pace_mps, 0.0, gap.top_mps), even())
    # on a straight both say the same: the larger of the two would be too large
    onward_m = np.maximum(onward_m, gap.chord_m + gap.chord_sd_m * (ndtri(even()) - 1))
    slow = min(gap.start_mps, gap.end_mps) / max(gap.usual_mps, 1e-6)
    spare_s = np.maximum(gap.lasting_s - braking_s - starting_s, 0.0)
    chance = inclination ** max(_MOVING_ON * min(slow / _SLOW_SHARE, 1.0) ** 2, _AT_REST)
    # one that drove on would hardly be seen so near again; but what a gap hides may be unusual
    onward = float(np.clip(2 * gap.as_near, _NEAR_AGAIN, 1.0)) * (1 - chance)
    chance /= chance + onward
    stood = even() < chance * (1 - np.exp(-spare_s / _SETTLES_S))
    stood |= gap.still_s is not None
    least_m = np.minimum(straight_m, onward_m)
    further = np.maximum((even() - _NOTHING_ELSE) / (1 - _NOTHING_ELSE), 0.0) ** 2
    length_m = np.where(stood, least_m + further * (onward_m - least_m), onward_m)
    length_m = _by_routes(gap, length_m, stood, even() < _trust(gap), ndtri(even()))
    return _timed(gap, length_m, np.maximum(onward_m, length_m) / gap.lasting_s, even())


def _most_m(gap: GapEvidence, pace_mps: FloatArray, chance: FloatArray) -> FloatArray:
    """How far the car comes, (n,), if it moves whenever nobody noted otherwise."""
    going_s = gap.lasting_s
    if gap.still_s is not None:
        going_s -= gap.still_s[1] - gap.still_s[0]
    if gap.coasting_from_s is None or gap.coasting_from_s >= going_s:
        return pace_mps * going_s
    driven_s = max(gap.coasting_from_s, 0.0)
    speed_mps = pace_mps if driven_s > 0 else np.full(pace_mps.size, gap.start_mps)
    slowing_mps2 = _COASTING_MPS2[0] + (_COASTING_MPS2[1] - _COASTING_MPS2[0]) * chance
    coasting_s = np.minimum(speed_mps / slowing_mps2, going_s - driven_s)
    coasted_m = coasting_s * (speed_mps - slowing_mps2 * coasting_s / 2)
    return np.asarray(pace_mps * driven_s + coasted_m)


def _trust(gap: GapEvidence) -> float:
    """How likely the car went the way it went on other laps."""
    return _ON_COURSE if gap.laps_known else _ON_COURSE_LAP_UNKNOWN


def _by_routes(
    gap: GapEvidence,
    length_m: FloatArray,
    stood: BoolArray,
    on_course: BoolArray,
    chance: FloatArray,
) -> FloatArray:
    """Lengths (n,) moved to the nearest that the course allows, where the car stayed on it.

    Where the car drove on, that length and its pace are two estimates, weighed by their variances.
    """
    pace_m, pace_sd_m = gap.pace_mps * gap.lasting_s, gap.pace_sd_mps * gap.lasting_s
    reach_m = 3 * gap.route_sd_m
    routes_m = gap.routes_m[
        (gap.routes_m > gap.chord_m - 3 * gap.chord_sd_m - reach_m)
        & (gap.routes_m < max(float(np.max(length_m)), gap.chord_m) + reach_m)
    ]
    if routes_m.size == 0:
        return length_m
    route_m = routes_m[np.searchsorted((routes_m[1:] + routes_m[:-1]) / 2, length_m)]
    weight = pace_sd_m**2 / (pace_sd_m**2 + gap.route_sd_m**2)
    onward = ~stood & (np.abs(route_m - pace_m) < 3 * np.hypot(pace_sd_m, gap.route_sd_m))
    by_route_m = np.where(
        onward,
        pace_m + weight * (route_m - pace_m) + np.sqrt(weight) * gap.route_sd_m * chance,
        route_m + gap.route_sd_m * chance,
    )
    return np.where(on_course, np.maximum(by_route_m, 0.0), length_m)


def _timed(
    gap: GapEvidence, length_m: FloatArray, going_mps: FloatArray, chance: FloatArray
) -> Passages:
    """Where in the gap the time that the car didn't need for its way was stood."""
    lasting_s = gap.lasting_s
    still_from_s, still_to_s = gap.still_s or (0.0, 0.0)
    least_going_s = max(lasting_s - still_to_s + still_from_s, 1.0)
    going_mps = np.maximum(going_mps, length_m / least_going_s)
    rest_s = lasting_s - length_m / np.maximum(going_mps, 1e-6)
    rest_s = np.clip(rest_s, 0.0, lasting_s)
    wait_s = np.zeros(rest_s.size)
    if gap.still_s is not None:
        least_s = np.maximum(still_to_s - rest_s, 0.0)
        go_s = least_s + chance * np.maximum(
            np.minimum(still_from_s, lasting_s - rest_s) - least_s, 0.0
        )
    elif gap.start_mps == 0 and gap.end_mps == 0:
        wait_s, go_s = chance * rest_s, lasting_s - rest_s
    elif gap.start_mps == 0:
        go_s = np.zeros(rest_s.size)
    elif gap.end_mps == 0:
        go_s = lasting_s - rest_s
    else:
        go_s = chance * (lasting_s - rest_s)
    return Passages(gap, length_m, wait_s, go_s, rest_s - wait_s)
