"""Display readings as bounds on energy: what was shown, when, and since which trip reset."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ebbline.measure.display import interval_of
from ebbline.measure.naming import named
from ebbline.measure.time.moments import Moment, TimedReading
from ebbline.measure.units import factor
from ebbline.records.arrays import FloatArray
from ebbline.records.evidence import Reading
from ebbline.records.result import Finding
from ebbline.vocabulary import reading_name

INVERSE_CONSUMPTION = ("mi/kWh", "km/kWh")
REGENERATION_KWH = 0.03  # what may flow back between two readings without a contradiction
# Between two readings energy rises by at least and at most these times the expected work; beyond
# that one of them is a mistake (common practice, no source).
LEAST_SHARE = 0.2
MOST_SHARE = 4.0


@dataclass(frozen=True, slots=True)
class EnergyBound:
    """Energy since ``since_s`` lies in [low, high] at a moment.

    ``origin`` 0: counted from a trip reset in the session; else the number of an unknown
    constant that comes on top. ``noise_kwh``: normal error beside the interval.
    """

    reading_id: str
    quantity: str
    moment: Moment
    since_s: float
    origin: int
    low_kwh: float
    high_kwh: float
    noise_kwh: float

    def named(self) -> str:
        """The reading in words, with its time."""
        return named(reading_name(self.quantity), self.moment.t_s)


@dataclass(frozen=True, slots=True)
class EnergyEvidence:
    """All bounds of a run, in order of time."""

    bounds: tuple[EnergyBound, ...]

    def marks_s(self) -> FloatArray:
        """Moments (k,), rising, at which a counter was read, or began at a reset."""
        read = [bound.moment.t_s for bound in self.bounds]
        reset = [bound.since_s for bound in self.bounds if bound.origin == 0]
        return np.unique(np.array([*read, *reset]))


def energy_bounds(
    readings: list[TimedReading],
    resets: list[Moment],
    start_s: float,
    car_distance_m: Callable[[float, float], tuple[float, float]],
) -> EnergyEvidence:
    """Bounds from trip energy, and from mean consumption times the car's own trip distance.

    Args:
        readings: every timed reading of the session; other quantities are passed over.
        resets: moments the trip meter was reset.
        start_s: first fix; trip meters that ran before it count from there plus a constant.
        car_distance_m: the car's trip distance and its standard deviation between two moments;
            NaN where the track can't say.
    """
    bounds = []
    for timed in readings:
        before = [reset for reset in resets if reset.t_s <= timed.moment.t_s]
        since_s = before[-1].t_s if before else start_s
        if timed.reading.quantity == "trip_energy":
            low, high = interval_of(timed.reading)
            noise = 0.0
        elif timed.reading.quantity == "mean_consumption" and before:
            distance_m, sd_m = car_distance_m(since_s, timed.moment.t_s)
            low, high = _from_mean(timed.reading, distance_m)
            noise = (low + high) / 2 * sd_m / distance_m if distance_m > 0 else math.nan
        else:
            continue
        if not (math.isfinite(low) and math.isfinite(high) and math.isfinite(noise)):
            continue
        bounds.append(
            EnergyBound(
                reading_id=timed.reading.id,
                quantity=timed.reading.quantity,
                moment=timed.moment,
                since_s=since_s,
                origin=0 if before else 1,
                low_kwh=low,
                high_kwh=high,
                noise_kwh=noise,
            )
        )
    return EnergyEvidence(tuple(sorted(bounds, key=lambda bound: bound.moment.t_s)))


def settle_contradictions(
    evidence: EnergyEvidence, work_kwh: Callable[[float, float], tuple[float, float]]
) -> tuple[EnergyEvidence, list[Finding]]:
    """Pairs of readings that can't both be right: energy that didn't rise, or rose beyond reason.

    ``work_kwh`` gives the least and the most that the way between two moments should have taken.

    Each pair is named in a finding, and both readings are widened by what they disagree about:
    neither is trusted over the other, and the figures say how unsure that makes them.
    """
    findings = []
    widening = dict.fromkeys(range(len(evidence.bounds)), 0.0)
    for j, later in enumerate(evidence.bounds):
        for i, earlier in enumerate(evidence.bounds[:j]):
            if (earlier.since_s, earlier.origin) != (later.since_s, later.origin):
                continue
            slack = 3 * (earlier.noise_kwh + later.noise_kwh)
            slow, fast = work_kwh(earlier.moment.t_s, later.moment.t_s)
            least = LEAST_SHARE * max(slow, 0.0) - REGENERATION_KWH
            most = MOST_SHARE * max(fast, 0.0) + 0.1
            missing = earlier.low_kwh + least - slack - later.high_kwh
            surplus = later.low_kwh - earlier.high_kwh - most - slack
            if max(missing, surplus) > 1e-9:
                findings.append(_contradiction(earlier, later, fell=missing > 0))
                for k in (i, j):
                    widening[k] = max(widening[k], missing, surplus)
    bounds = tuple(
        replace(bound, low_kwh=bound.low_kwh - widening[k], high_kwh=bound.high_kwh + widening[k])
        for k, bound in enumerate(evidence.bounds)
    )
    return EnergyEvidence(bounds), findings


def _contradiction(earlier: EnergyBound, later: EnergyBound, *, fell: bool) -> Finding:
    return Finding(
        "doubt",
        "readings_contradict",
        f"{earlier.named()} says {earlier.low_kwh:.2f} to {earlier.high_kwh:.2f} kWh "
        f"and {later.named()}, {later.moment.t_s - earlier.moment.t_s:.0f} s later, "
        f"{later.low_kwh:.2f} to {later.high_kwh:.2f} kWh: "
        + ("so little can't have been used." if fell else "no car uses that much.")
        + " Check both; until then both count for less.",
        f"readings {earlier.reading_id} and {later.reading_id}",
    )


def _from_mean(reading: Reading, distance_m: float) -> tuple[float, float]:
    low, high = interval_of(reading)
    if reading.unit in INVERSE_CONSUMPTION:
        if low <= 0:
            return math.nan, math.nan
        per_kwh = factor(reading.unit, "m/kWh")
        return distance_m / (high * per_kwh), distance_m / (low * per_kwh)
    per_m = factor(reading.unit, "kWh/m")
    return low * per_m * distance_m, high * per_m * distance_m
