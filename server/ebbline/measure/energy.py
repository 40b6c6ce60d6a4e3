"""Energy drawn from the pack along the run, from what the display showed.

Each reading bounds the truth (``evidence``). Between readings energy follows the expected
work: road load where it is known, distance and time otherwise, times a share that is fitted,
plus a random walk for everything the expectation misses (wind, gradients, accelerating,
regeneration). The readings' intervals are put in by expectation propagation (``bounded``), so
a curve may go anywhere the intervals allow, no further, and beyond the first and last reading
its doubt grows as it should.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import cumulative_trapezoid

from ebbline.measure.bounded import Bounded, Places, condition
from ebbline.measure.calm import calm
from ebbline.measure.clock import Moment
from ebbline.measure.evidence import EnergyEvidence
from ebbline.measure.track import Track
from ebbline.records import FloatArray, RoadLoad

JOULE_PER_KWH = 3.6e6
# Without a road load: an ordinary car's rolling and air drag as power against speed, and what
# runs beside (common practice, no source). Only the shape matters, the share is fitted.
USUAL_ROAD_LOAD = RoadLoad(a_n=160.0, b_n_per_mps=0.0, c_n_per_mps2=0.42)
USUAL_EFFICIENCY = 0.88
AUXILIARY_W = 500.0
# Speeding up and braking: a usual car's mass, and the part of what braking takes at the wheels that
# the pack gets back (common practice, no source). The part is fitted where readings tell.
MASS_KG = 1900.0
REGENERATION = 0.6
REGENERATION_SD = 0.2


@dataclass(frozen=True, slots=True)
class Trust:
    """How far the expected work can be trusted.

    ``share_sd``: relative doubt of the whole; ``local_sd``: relative deviation over stretches
    of about ``local_kwh``, to begin with: the readings decide (common practice, no source).
    """

    share_sd: float
    local_sd: float
    local_kwh: float = 0.06


KNOWN_ROAD_LOAD = Trust(share_sd=0.2, local_sd=0.2)
UNKNOWN_ROAD_LOAD = Trust(share_sd=0.6, local_sd=0.3)
LOCAL_LOG_SD = 1.4  # of the local variance: a course may be level and calm, or hilly and windy


@dataclass(frozen=True, slots=True)
class Supply:
    """Until when the pack drove the car, and until when it fed what runs beside, seconds."""

    propulsion_until_s: float = math.inf
    auxiliaries_until_s: float = math.inf


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expected energy from the pack since the first fix, at the fixes (n,), and its trust.

    ``work_kwh``: road load, speeding up and braking, and what runs beside; ``braked_kwh``: energy
    braked away at the wheels so far, of which the pack may get more or less back than expected;
    ``walk_kwh2``: variance so far of the random walk on top. The last two never fall.
    ``share_sd``: doubt of the whole.
    """

    work_kwh: FloatArray
    braked_kwh: FloatArray
    walk_kwh2: FloatArray
    share_sd: float


def expected_energy(track: Track, road_load: RoadLoad | None, supply: Supply) -> Expected:
    """What a run should have taken, by the car's road load or a usual car's."""
    trust = KNOWN_ROAD_LOAD if road_load else UNKNOWN_ROAD_LOAD
    load = road_load or USUAL_ROAD_LOAD
    efficiency = load.driveline_efficiency or USUAL_EFFICIENCY
    step_s = np.diff(track.t_s)
    speed = calm(track.t_s, track.speed_mps)
    drag_w = road_load_w(load, speed)
    propelled = track.t_s[1:] <= supply.propulsion_until_s
    drag_j = propelled * step_s * (drag_w[:-1] + drag_w[1:]) / 2
    wheel_j = drag_j + propelled * np.diff(MASS_KG * speed**2 / 2)
    beside_j = np.where(track.t_s[1:] <= supply.auxiliaries_until_s, AUXILIARY_W, 0.0) * step_s
    drawn_j = np.where(wheel_j > 0, wheel_j / efficiency, REGENERATION * wheel_j) + beside_j
    braked_j = np.maximum(-wheel_j, 0.0)
    unsure_kwh = _summed_kwh(drag_j / efficiency + beside_j + braked_j)
    return Expected(
        work_kwh=_summed_kwh(drawn_j),
        braked_kwh=_summed_kwh(braked_j),
        walk_kwh2=2 * trust.local_kwh * trust.local_sd**2 * unsure_kwh,
        share_sd=trust.share_sd,
    )


def _summed_kwh(steps_j: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(steps_j)]) / JOULE_PER_KWH


def road_load_w(load: RoadLoad, speed_mps: FloatArray) -> FloatArray:
    """Power at the wheels at steady speed on the level: (a + b v + c v²) v.

    The form of 40 CFR 1066.301; tests/published holds it against 40 CFR 86.529.
    """
    force_n = load.a_n + load.b_n_per_mps * speed_mps + load.c_n_per_mps2 * speed_mps**2
    return np.asarray(force_n * speed_mps)


def from_voltage_and_current_kwh(
    t_s: FloatArray, voltage_v: FloatArray, current_a: FloatArray
) -> FloatArray:
    """Energy since the first sample by the trapezoidal rule on power, (n,), kWh.

    Discharge current positive. tests/published holds it against a battery simulation.
    """
    power_w = np.asarray(voltage_v) * np.asarray(current_a)
    return np.asarray(cumulative_trapezoid(power_w, t_s, initial=0) / JOULE_PER_KWH)


@dataclass(frozen=True, slots=True, eq=False)
class EnergyCurve:
    """Energy along the run: ask it for the difference between moments."""

    track: Track
    expected: Expected
    bounded: Bounded
    share: float  # fitted energy per expected work
    fitted_kw: FloatArray  # at the fixes, (n,)
    first_reading_s: float
    last_reading_s: float

    def between(self, start: Moment, moments: list[Moment]) -> tuple[FloatArray, FloatArray]:
        """Energy from one moment to each of k others: means and standard deviations, kWh.

        NaN where the track can't place a moment. The timing doubt of both ends is included.
        """
        at_s = np.array([moment.t_s for moment in moments])
        mean, sd = self.since(start, at_s)
        sd_s = np.array([moment.sd_s for moment in moments])
        timing = np.hypot(
            self.power_kw(np.array([start.t_s])) * start.sd_s, self.power_kw(at_s) * sd_s
        )
        same = np.array([moment == start for moment in moments], dtype=bool)
        return mean, np.hypot(sd, np.where(same, 0.0, timing / 3600))

    def since(self, start: Moment, t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Energy from one moment to exact others (k,), leaving out the timing of the first."""
        end = _places(self.track, self.expected, t_s)
        begin = _places(self.track, self.expected, np.full(t_s.size, start.t_s))
        mean, sd = self.bounded.difference(begin, end)
        placed = self.track.covers(t_s) & self.track.covers(np.array([start.t_s]))
        return np.where(placed, mean, np.nan), sd

    @property
    def fitted_work_kwh(self) -> FloatArray:
        """Expected work times the fitted share, at the fixes, (n,)."""
        return self.share * self.expected.work_kwh

    def power_kw(self, t_s: FloatArray) -> FloatArray:
        """Fitted power from the pack at moments (k,); 0 off the track."""
        return np.interp(t_s, self.track.t_s, self.fitted_kw, left=0.0, right=0.0)


def fit_energy(track: Track, evidence: EnergyEvidence, expected: Expected) -> EnergyCurve | None:
    """The energy curve of a run; None when no reading bounds it."""
    if not evidence.bounds:
        return None
    at_s = np.array([bound.moment.t_s for bound in evidence.bounds])
    from_s = np.array([bound.since_s for bound in evidence.bounds])
    timing_s = np.array([bound.moment.sd_s for bound in evidence.bounds])
    expected_kw = np.gradient(expected.work_kwh, track.t_s) * 3600
    power_kw = np.interp(at_s, track.t_s, expected_kw, left=0.0, right=0.0)
    timing_kwh = power_kw * timing_s / 3600
    other_kwh = np.array([bound.noise_kwh for bound in evidence.bounds])
    bounded = condition(
        places=_places(track, expected, np.concatenate([at_s, from_s])),
        low_kwh=np.array([bound.low_kwh for bound in evidence.bounds]),
        high_kwh=np.array([bound.high_kwh for bound in evidence.bounds]),
        noise_kwh=np.maximum(np.hypot(timing_kwh, other_kwh), 1e-3),
        origin=np.array([bound.origin for bound in evidence.bounds]),
        share_sd=expected.share_sd,
        aside_sd=REGENERATION_SD,
        walk_log_sd=LOCAL_LOG_SD,
    )
    first = _places(track, expected, np.min(from_s, keepdims=True))
    last = _places(track, expected, np.max(at_s, keepdims=True))
    share = _fitted_share(bounded, first, last)
    return EnergyCurve(
        track=track,
        expected=expected,
        bounded=bounded,
        share=share,
        fitted_kw=share * expected_kw,
        first_reading_s=float(np.min(at_s)),
        last_reading_s=float(np.max(at_s)),
    )


def _places(track: Track, expected: Expected, t_s: FloatArray) -> Places:
    return Places(
        np.interp(t_s, track.t_s, expected.work_kwh),
        np.interp(t_s, track.t_s, expected.walk_kwh2),
        np.interp(t_s, track.t_s, expected.braked_kwh),
    )


def _fitted_share(bounded: Bounded, first: Places, last: Places) -> float:
    """Energy per expected work over the stretch that the readings span."""
    work_kwh = float(last.work_kwh[0] - first.work_kwh[0])
    if work_kwh <= 0:
        return 1.0
    mean, _ = bounded.difference(first, last)
    return float(max(mean[0], 0.0) / work_kwh)
