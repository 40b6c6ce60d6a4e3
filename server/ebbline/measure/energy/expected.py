"""What a run should have taken from the pack: road load, speeding up and braking, auxiliaries."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure.energy.integral import JOULE_PER_KWH
from ebbline.measure.motion.motion import Motion
from ebbline.measure.numerics.running_mean import running_mean
from ebbline.measure.quantity import COVERAGE_FACTOR
from ebbline.records.arrays import BoolArray, FloatArray
from ebbline.records.setup import RoadLoad

# Without a road load: an ordinary car's rolling and air drag as power against speed, and what
# auxiliaries draw (common practice, no source). Only the shape matters, the share is fitted.
USUAL_ROAD_LOAD = RoadLoad(a_n=160.0, b_n_per_mps=0.0, c_n_per_mps2=0.42)


USUAL_EFFICIENCY = 0.88


# As usual, and once comfort was cut. What is left: the vehicle simulator fastsim gives each of its
# four battery electric cars 250 W beside climate (ran); a published model of consumption has 300 W
# (Genikomsakis and Mitrentsis, Transportation Research Part D 50, 2017, read second-hand). Climate
# adds a few hundred watts near the ideal temperature, 1 to 2 kW in heat or cold (A. Fly,
# Loughborough University, to the press).
AUXILIARY_W, AUXILIARY_LEFT_W = 500.0, 250.0
AUXILIARY_SD = 1.0  # how far a car may be from that, per usual: a fan and some lamps, or a heater
_BESIDE_SHARE = 0.5  # in a gap it may be so much more or less (common practice, no source)


# Speeding up and braking: a usual car's mass, and the part of what braking takes at the wheels that
# the pack gets back (common practice, no source). The part is fitted where readings tell.
MASS_KG = 1900.0


REGENERATION = 0.6


_REGENERATION_SD = 0.2
_MASS_SD = 0.15  # of a car's against the usual one's (common practice, no source)


# What was lifted comes back on a lap, and no road climbs for ever: a course's heights stray so far,
# to begin with (the readings decide), and forget within such a way (common practice, no source).
_HEIGHT_SD_M, HILL_M = 3.0, 300.0


GRAVITY_MPS2 = 9.80665  # standard acceleration of free fall (CGPM 1901)


@dataclass(frozen=True, slots=True)
class Trust:
    """How far the expected work can be trusted.

    ``share_sd``: relative standard deviation of the whole; ``local_sd``: of stretches of about
    ``local_kwh``, to begin with: the readings decide (common practice, no source).
    """

    share_sd: float
    local_sd: float
    local_kwh: float = 0.06


KNOWN_ROAD_LOAD = Trust(share_sd=0.2, local_sd=0.1)


UNKNOWN_ROAD_LOAD = Trust(share_sd=0.6, local_sd=0.15)


# Where nobody saw the speeds, the power over so many seconds has a standard deviation as large as
# itself, independent of the seconds that follow; or over such a part of the stretch between two
# readings, if that is longer: all of it may have been driven at another pace (common practice, no
# source).
_UNSEEN_MEMORY_S, _UNSEEN_PART = 28.0, 0.4
# It may have been so fast at any moment, if not faster elsewhere (common practice, no source).
_UNSEEN_MPS = 25.0


@dataclass(frozen=True, slots=True)
class Supply:
    """Until when the pack drove the car, until when it fed the auxiliaries, and until when all of
    them, before something was cut for comfort; seconds.
    """

    propulsion_until_s: float = math.inf
    auxiliaries_until_s: float = math.inf
    comfort_until_s: float = math.inf


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expected energy from the pack at moments ``t_s`` (n,) along a motion, and its trust.

    ``work_kwh``: road load, speeding up and braking, and auxiliaries; ``asides_kwh`` (n, 4): energy
    braked away at the wheels so far, of which the pack may get more or less back than expected, and
    of the work what auxiliaries drew, all of them and later those left, which may be more or less
    as long as it lasts, and what the car's speed holds, by its mass;
    ``asides_sd`` (4,): by what factors;
    ``walk_var_kwh2``: variance so far of
    the random walk on top; ``unseen_var_kwh2``: of what the car may have done in gaps; ``way_m``:
    the way so far on which hills count. The last three never fall. ``share_sd``: relative, of the
    whole; ``height_sd_kwh``: what the course's heights make, lifted by the pack.
    """

    t_s: FloatArray
    work_kwh: FloatArray
    asides_kwh: FloatArray
    walk_var_kwh2: FloatArray
    unseen_var_kwh2: FloatArray
    way_m: FloatArray
    share_sd: float
    height_sd_kwh: float
    asides_sd: tuple[float, ...] = (
        _REGENERATION_SD,
        AUXILIARY_SD,
        AUXILIARY_SD,
        _MASS_SD,
    )

    def asides_at(self, t_s: FloatArray) -> FloatArray:
        """The further expectations (k, 4) at moments (k,)."""
        return np.column_stack([self.at(t_s, column) for column in self.asides_kwh.T])

    def at(self, t_s: FloatArray, column_kwh: FloatArray) -> FloatArray:
        """One of the columns (n,) at moments of any shape; held beyond the ends."""
        return np.asarray(np.interp(t_s, self.t_s, column_kwh))

    def range_kwh(self, from_s: float, to_s: float) -> tuple[float, float]:
        """Least and most work between two moments, by what gaps may hide."""
        work_kwh, var_kwh2 = (
            float(np.diff(self.at(np.array([from_s, to_s]), column))[0])
            for column in (self.work_kwh, self.unseen_var_kwh2)
        )
        reach_kwh = 2 * math.sqrt(max(var_kwh2, 0.0))
        return work_kwh - reach_kwh, work_kwh + reach_kwh


def expected_energy(
    motion: Motion,
    road_load: RoadLoad | None,
    supply: Supply,
    read_s: FloatArray | None = None,
) -> Expected:
    """What a run should have taken, by the car's road load or a usual car's.

    ``read_s``: moments (k,), rising, at which the display's counters were read or reset.
    """
    trust = KNOWN_ROAD_LOAD if road_load else UNKNOWN_ROAD_LOAD
    load = road_load or USUAL_ROAD_LOAD
    efficiency = load.driveline_efficiency or USUAL_EFFICIENCY
    line = motion.finely()
    step_s = np.diff(line.t_s)
    speed = running_mean(line.t_s, line.speed_mps)
    drag_w = road_load_w(load, speed)
    propelled = line.t_s[1:] <= supply.propulsion_until_s
    drag_j = propelled * step_s * (drag_w[:-1] + drag_w[1:]) / 2
    unseen_j, unseen_sd_j = _in_gaps(motion, load, efficiency, supply.propulsion_until_s)
    drag_j[line.gap] = unseen_j * efficiency
    unseen_var_j2 = np.zeros(step_s.size)
    unseen_var_j2[line.gap] = unseen_sd_j**2
    unseen_w = drag_w[1:] / efficiency + AUXILIARY_W
    memory_s = _memory_s(line.t_s, np.empty(0) if read_s is None else read_s)
    unseen_var_j2 += line.unseen * propelled * unseen_w**2 * memory_s * step_s
    moving_j = propelled * np.diff(MASS_KG * speed**2 / 2)
    wheel_j = drag_j + moving_j
    all_on = line.t_s[1:] <= supply.comfort_until_s
    beside_w = np.where(all_on, AUXILIARY_W, AUXILIARY_LEFT_W)
    beside_j = (line.t_s[1:] <= supply.auxiliaries_until_s) * beside_w * step_s
    drawn_j = np.where(wheel_j > 0, wheel_j / efficiency, REGENERATION * wheel_j) + beside_j
    braked_j = np.maximum(-wheel_j, 0.0)
    way_m = propelled * step_s * (speed[:-1] + speed[1:]) / 2
    unsure_j = _by_the_metre(drag_j, way_m, ~line.gap) / efficiency + beside_j + braked_j
    unsure_kwh = _summed_kwh(unsure_j)
    return Expected(
        t_s=line.t_s,
        work_kwh=_summed_kwh(drawn_j),
        asides_kwh=np.column_stack(
            [
                _summed_kwh(each_j)
                for each_j in (
                    braked_j,
                    all_on * beside_j,
                    ~all_on * beside_j,
                    moving_j / efficiency,
                )
            ]
        ),
        walk_var_kwh2=2 * trust.local_kwh * trust.local_sd**2 * unsure_kwh,
        unseen_var_kwh2=_summed_kwh(unseen_var_j2) / JOULE_PER_KWH,
        way_m=np.concatenate([[0.0], np.cumsum(way_m)]),
        share_sd=trust.share_sd,
        height_sd_kwh=MASS_KG * GRAVITY_MPS2 * _HEIGHT_SD_M / efficiency / JOULE_PER_KWH,
    )


def _by_the_metre(drag_j: FloatArray, way_m: FloatArray, seen: BoolArray) -> FloatArray:
    """The drag of steps (n-1,), that of all ``seen`` ones spread evenly over their ways (n-1,):
    hills act by the metre, however slow the car is on them.
    """
    whole_m = float(np.sum(way_m[seen]))
    if whole_m == 0:
        return drag_j
    return np.where(seen, way_m * (float(np.sum(drag_j[seen])) / whole_m), drag_j)


def kinetic_sd_kwh(motion: Motion, load: RoadLoad | None, t_s: FloatArray) -> FloatArray:
    """By how much the car's motion at moments (k,) may hold more or less than its speed says, one
    standard deviation, counted at the pack: a speed's error shows there and is gone soon after.

    Nothing within gaps and beyond the track, where ``unseen_var_kwh2`` stands for it.
    """
    speed_mps, sd_mps = motion.seen_speed(t_s)
    efficiency = (load and load.driveline_efficiency) or USUAL_EFFICIENCY
    return MASS_KG * speed_mps * sd_mps / efficiency / JOULE_PER_KWH


def unseen_kinetic_kwh(
    motion: Motion, load: RoadLoad | None, mass_kg: float | None
) -> tuple[FloatArray, FloatArray]:
    """By how much the car's motion may hold less or more than its expected speed says, (n,) each,
    counted at the pack: nothing at moments at which the speed was seen.
    """
    unseen = np.concatenate([motion.unseen, [False]]) | np.concatenate([[False], motion.unseen])
    fastest_mps = max(float(np.max(motion.speed_mps)), _UNSEEN_MPS)
    efficiency = (load and load.driveline_efficiency) or USUAL_EFFICIENCY
    half_kg = (mass_kg or MASS_KG) / 2 / efficiency
    less_j = unseen * half_kg * running_mean(motion.t_s, motion.speed_mps) ** 2
    return less_j / JOULE_PER_KWH, (unseen * half_kg * fastest_mps**2 - less_j) / JOULE_PER_KWH


def _memory_s(t_s: FloatArray, read_s: FloatArray) -> FloatArray:
    """Over how many seconds the power of each step (n-1,) strays as one, where nobody saw it."""
    marks_s = np.concatenate([t_s[:1], read_s[(read_s > t_s[0]) & (read_s < t_s[-1])], t_s[-1:]])
    apart_s = np.diff(marks_s)
    middle_s = (t_s[:-1] + t_s[1:]) / 2
    stretch = np.clip(np.searchsorted(marks_s, middle_s) - 1, 0, apart_s.size - 1)
    return np.maximum(_UNSEEN_MEMORY_S, _UNSEEN_PART * apart_s[stretch])


def _in_gaps(
    motion: Motion, load: RoadLoad, efficiency: float, propelled_until_s: float
) -> tuple[FloatArray, FloatArray]:
    """What driving through each gap took from the pack beside its change of speed, (gaps,) in J:
    the middle of what may have happened in it, and a standard deviation.

    They are those of the normal distribution with the same 95 % interval: the mean and spread of a
    car that stood or drove on would leave out the rarer of the two. A stand between costs the
    braking before it and the start after it.
    """
    middle_j, sd_j = [], []
    for known in motion.passages:
        pace_mps = known.length_m / np.maximum(known.moving_s, 1.0)
        stopped = (known.stand_s > 0) & (known.go_s > 0) & (known.gap.end_mps > 0)
        restart_j = MASS_KG * pace_mps**2 / 2 * (1 / efficiency - REGENERATION)
        drawn_j = road_load_w(load, pace_mps) * known.moving_s / efficiency + stopped * restart_j
        propelled_s = np.clip(propelled_until_s - known.gap.from_s, 0.0, known.gap.lasting_s)
        drawn_j *= propelled_s / known.gap.lasting_s
        drawn_j += known.gap.lasting_s * AUXILIARY_W * _unsure_beside(drawn_j.size)
        least_j, most_j = np.quantile(drawn_j, [0.025, 0.975])
        middle_j.append((least_j + most_j) / 2)
        sd_j.append((most_j - least_j) / (2 * COVERAGE_FACTOR))
    return np.array(middle_j), np.array(sd_j)


def _unsure_beside(n: int) -> FloatArray:
    """By what share (n,) the auxiliaries may draw more or less than usual: nobody saw it, and while
    the car stands they are all that draws. Even over the possibilities, whatever else these hold.
    """
    golden = (math.sqrt(5) - 1) / 2
    return np.asarray(_BESIDE_SHARE * (2 * ((np.arange(n) * golden) % 1) - 1))


def _summed_kwh(steps_j: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(steps_j)]) / JOULE_PER_KWH


def road_load_w(load: RoadLoad, speed_mps: FloatArray) -> FloatArray:
    """Power at the wheels at steady speed on the level: (a + b v + c v²) v.

    The form of 40 CFR 1066.301; tests/published holds it against 40 CFR 86.529.
    """
    force_n = load.a_n + load.b_n_per_mps * speed_mps + load.c_n_per_mps2 * speed_mps**2
    return np.asarray(force_n * speed_mps)
