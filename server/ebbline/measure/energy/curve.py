"""Energy drawn from the pack along the run, from what the display showed.

Each reading bounds the truth (``bounds``). Between readings energy follows the expected work: road
load where it is known, distance and time otherwise, times a share that is fitted, plus a random
walk for everything the expectation misses (wind, gradients, accelerating, regeneration). The
readings' intervals are put in by expectation propagation (``interval_process``), so a curve may go
anywhere the intervals allow, no further, and beyond the first and last reading its doubt grows as
it should.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.energy.bounds import EnergyEvidence
from ebbline.measure.energy.expected import Expected
from ebbline.measure.numerics.interval_process import IntervalProcess, Places, condition
from ebbline.measure.time.moments import Moment
from ebbline.measure.track.track import Track
from ebbline.records import FloatArray

REGENERATION_SD = 0.2


LOCAL_LOG_SD = 1.4  # of the local variance: a course may be level and calm, or hilly and windy


@dataclass(frozen=True, slots=True, eq=False)
class EnergyCurve:
    """Energy along the run: ask it for the difference between moments."""

    track: Track
    expected: Expected
    process: IntervalProcess
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
        mean, sd = self.process.difference(begin, end)
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
    process = condition(
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
    share = _fitted_share(process, first, last)
    return EnergyCurve(
        track=track,
        expected=expected,
        process=process,
        share=share,
        fitted_kw=share * expected_kw,
        first_reading_s=float(np.min(at_s)),
        last_reading_s=float(np.max(at_s)),
    )


def _places(track: Track, expected: Expected, t_s: FloatArray) -> Places:
    return Places(
        np.interp(t_s, track.t_s, expected.work_kwh),
        np.interp(t_s, track.t_s, expected.walk_var_kwh2),
        np.interp(t_s, track.t_s, expected.braked_kwh),
    )


def _fitted_share(process: IntervalProcess, first: Places, last: Places) -> float:
    """Energy per expected work over the stretch that the readings span."""
    work_kwh = float(last.work_kwh[0] - first.work_kwh[0])
    if work_kwh <= 0:
        return 1.0
    mean, _ = process.difference(first, last)
    return float(max(mean[0], 0.0) / work_kwh)
