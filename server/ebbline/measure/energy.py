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


@dataclass(frozen=True, slots=True)
class Expectation:
    """How far the expected work can be trusted.

    ``share_sd``: relative doubt of the whole; ``local_sd``: relative deviation over stretches
    of about ``local_kwh`` (common practice, no source; held in simulation).
    """

    share_sd: float
    local_sd: float
    local_kwh: float = 0.06


KNOWN_ROAD_LOAD = Expectation(share_sd=0.15, local_sd=0.25)
UNKNOWN_ROAD_LOAD = Expectation(share_sd=0.6, local_sd=0.45)


def expected_work_kwh(
    track: Track, road_load: RoadLoad | None, off_s: float = math.inf
) -> FloatArray:
    """Expected energy from the pack since the first fix, at the fixes, (n,), never falling.

    From ``off_s`` on, where propulsion was off, only what runs beside is drawn.
    """
    load = road_load or USUAL_ROAD_LOAD
    speed = track.speed_mps
    efficiency = load.driveline_efficiency or USUAL_EFFICIENCY
    driving_w = road_load_w(load, speed) / efficiency
    power_w = np.where(track.t_s < off_s, driving_w, 0.0) + AUXILIARY_W
    work_j = cumulative_trapezoid(power_w, track.t_s, initial=0)
    return np.asarray(work_j / JOULE_PER_KWH)


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
    work_kwh: FloatArray
    walk_kwh2_per_kwh: float
    bounded: Bounded
    share: float
    first_reading_s: float
    last_reading_s: float

    def between(self, start: Moment, moments: list[Moment]) -> tuple[FloatArray, FloatArray]:
        """Energy from one moment to each of k others: means and standard deviations, kWh.

        NaN where the track can't place a moment. The timing doubt of both ends is included.
        """
        at_s = np.array([start.t_s, *(moment.t_s for moment in moments)])
        k = len(moments)
        difference = np.hstack([-np.ones((k, 1)), np.eye(k)])
        mean, covariance = self.bounded.predict(self._places(at_s), difference)
        sd_s = np.array([start.sd_s, *(moment.sd_s for moment in moments)])
        timing = self.power_kw(at_s) * sd_s / 3600
        same = np.array([moment == start for moment in moments], dtype=bool)
        variance = np.diag(covariance) + np.where(same, 0, timing[0] ** 2 + timing[1:] ** 2)
        placed = self.track.covers(at_s)
        known = placed[1:] & placed[0]
        return np.where(known, mean, np.nan), np.sqrt(np.maximum(variance, 0))

    def power_kw(self, t_s: FloatArray) -> FloatArray:
        """Fitted power from the pack at moments (k,); 0 off the track."""
        return self.share * _power_kw(self.track, self.work_kwh, t_s)

    def _places(self, t_s: FloatArray) -> Places:
        work = np.interp(t_s, self.track.t_s, self.work_kwh)
        return Places(work, self.walk_kwh2_per_kwh * work)


def fit_energy(
    track: Track,
    evidence: EnergyEvidence,
    road_load: RoadLoad | None,
    off_s: float = math.inf,
) -> EnergyCurve | None:
    """The energy curve of a run; None when no reading bounds it."""
    if not evidence.bounds:
        return None
    work_kwh = expected_work_kwh(track, road_load, off_s)
    expectation = KNOWN_ROAD_LOAD if road_load else UNKNOWN_ROAD_LOAD
    walk = 2 * expectation.local_kwh * expectation.local_sd**2
    at_s = np.array([bound.moment.t_s for bound in evidence.bounds])
    from_s = np.array([bound.since_s for bound in evidence.bounds])
    work_at = np.interp(np.concatenate([at_s, from_s]), track.t_s, work_kwh)
    timing_s = np.array([bound.moment.sd_s for bound in evidence.bounds])
    timing_kwh = _power_kw(track, work_kwh, at_s) * timing_s / 3600
    other_kwh = np.array([bound.noise_kwh for bound in evidence.bounds])
    bounded = condition(
        places=Places(work_at, walk * work_at),
        low_kwh=np.array([bound.low_kwh for bound in evidence.bounds]),
        high_kwh=np.array([bound.high_kwh for bound in evidence.bounds]),
        noise_kwh=np.maximum(np.hypot(timing_kwh, other_kwh), 1e-3),
        origin=np.array([bound.origin for bound in evidence.bounds]),
        share_sd=expectation.share_sd,
    )
    return EnergyCurve(
        track=track,
        work_kwh=work_kwh,
        walk_kwh2_per_kwh=walk,
        bounded=bounded,
        share=_fitted_share(bounded, work_at, walk),
        first_reading_s=float(np.min(at_s)),
        last_reading_s=float(np.max(at_s)),
    )


def _fitted_share(bounded: Bounded, work_at: FloatArray, walk: float) -> float:
    """Energy per expected work over the stretch that the readings span."""
    ends = np.array([np.min(work_at), np.max(work_at)])
    if ends[1] <= ends[0]:
        return 1.0
    mean, _ = bounded.predict(Places(ends, walk * ends), np.array([[-1.0, 1.0]]))
    return float(max(mean[0], 0.0) / (ends[1] - ends[0]))


def _power_kw(track: Track, work_kwh: FloatArray, t_s: FloatArray) -> FloatArray:
    """Expected power at moments (k,), kW; 0 off the track."""
    power_kw = np.gradient(work_kwh, track.t_s) * 3600
    return np.asarray(np.interp(t_s, track.t_s, power_kw, left=0.0, right=0.0))
