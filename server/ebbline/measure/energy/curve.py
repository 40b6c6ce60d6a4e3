"""Energy drawn from the pack along the run, from what the display showed.

Each reading bounds the truth (``bounds``). Between readings energy follows the expected work: road
load where it is known, distance and time otherwise, times a share that is fitted, plus a random
walk for everything the expectation misses (wind, gradients, accelerating, regeneration). The
readings' intervals are put in by expectation propagation (``interval_process``), so a curve may go
anywhere the intervals allow, no further, and beyond the first and last reading its uncertainty
grows as it should.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ebbline.measure.energy.bounds import EnergyEvidence
from ebbline.measure.energy.expected import HILL_M, Expected, kinetic_sd_kwh
from ebbline.measure.motion.motion import Motion
from ebbline.measure.numerics.interval_process import IntervalProcess, Places, condition
from ebbline.measure.time.moments import Moment
from ebbline.records.arrays import FloatArray
from ebbline.records.setup import RoadLoad

_LEAST_SHARE = 0.3  # of the expected work: no car takes less (common practice, no source)


# Of the local variance's logarithm: what a level, calm course leaves open is a twentieth of what a
# hilly one does, and mountains leave some twenty times as much (common practice, no source).
LOCAL_LOG_SD = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class EnergyCurve:
    """Energy along the run: ask it for the difference between moments."""

    motion: Motion
    expected: Expected
    process: IntervalProcess
    road_load: RoadLoad | None
    share: float  # fitted energy per expected work
    fitted_kw: FloatArray  # at the expected work's moments, (n,)
    readings_s: FloatArray  # moments of the readings, rising

    @property
    def first_reading_s(self) -> float:
        """When the first reading was."""
        return float(self.readings_s[0])

    @property
    def last_reading_s(self) -> float:
        """When the last reading was."""
        return float(self.readings_s[-1])

    def between(self, start: Moment, moments: list[Moment]) -> tuple[FloatArray, FloatArray]:
        """Energy from one moment to each of k others: means and standard deviations, kWh.

        NaN for a moment off the run. What both ends are off by themselves is included.
        """
        at_s = np.array([moment.t_s for moment in moments])
        mean, sd = self.since(start, at_s)
        alone_kwh = self.alone_kwh([start, *moments])
        same = np.array([moment == start for moment in moments], dtype=bool)
        return mean, np.hypot(sd, np.where(same, 0.0, np.hypot(alone_kwh[0], alone_kwh[1:])))

    def alone_kwh(self, moments: list[Moment]) -> FloatArray:
        """What the curve is off at moments (k,) by their timing and by the speed there, which
        neither add up nor are shared; standard deviations.
        """
        at_s = np.array([moment.t_s for moment in moments])
        timing_kwh = self.power_kw(at_s) * np.array([moment.sd_s for moment in moments]) / 3600
        moving_kwh = kinetic_sd_kwh(self.motion, self.road_load, at_s)
        return np.asarray(np.hypot(timing_kwh, moving_kwh))

    def since(self, start: Moment, t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Energy from one moment to exact others (k,), leaving out the timing of the first."""
        end = _places(self.expected, t_s)
        begin = _places(self.expected, np.full(t_s.size, start.t_s))
        mean, sd = self.process.difference(begin, end)
        placed = self.motion.drives(t_s) & self.motion.drives(np.array([start.t_s]))
        return np.where(placed, mean, np.nan), sd

    def unread_var_kwh2(self, from_s: float, to_s: float) -> float:
        """Variance of the energy between two moments by what the car may have done in gaps, as far
        as no reading tells: at each end what the readings before and after it leave.
        """
        ends = [self._around(from_s), self._around(to_s)]
        if ends[0] == ends[1]:
            return self._left_kwh2(from_s, to_s, *ends[0])
        (before_s, next_s), (last_s, after_s) = ends
        start = from_s if next_s is None else next_s
        stop = to_s if last_s is None else last_s
        return self._left_kwh2(from_s, start, before_s, next_s) + self._left_kwh2(
            stop, to_s, last_s, after_s
        )

    def _around(self, t_s: float) -> tuple[float | None, float | None]:
        """The readings next to a moment: the last before it and the first after."""
        k = int(np.searchsorted(self.readings_s, t_s))
        return (
            float(self.readings_s[k - 1]) if k else None,
            float(self.readings_s[k]) if k < self.readings_s.size else None,
        )

    def _left_kwh2(
        self, from_s: float, to_s: float, before_s: float | None, after_s: float | None
    ) -> float:
        """Of a part between two readings, as far as they leave it; all where one is missing."""
        part = float(np.diff(self.unseen_var_kwh2(np.array([from_s, to_s])))[0])
        if before_s is None or after_s is None:
            return part
        whole = float(np.diff(self.unseen_var_kwh2(np.array([before_s, after_s])))[0])
        return part * (whole - part) / whole if whole > 0 else 0.0

    def unseen_var_kwh2(self, t_s: FloatArray) -> FloatArray:
        """Variance so far, at moments of any shape, of what the car may have done in gaps."""
        return np.asarray(self.expected.at(t_s, self.expected.unseen_var_kwh2))

    def fitted_work_kwh(self, t_s: FloatArray) -> FloatArray:
        """Expected work times the fitted share at moments (k,)."""
        return self.share * self.expected.at(t_s, self.expected.work_kwh)

    def power_kw(self, t_s: FloatArray) -> FloatArray:
        """Fitted power from the pack at moments (k,); 0 off the run."""
        return np.interp(t_s, self.expected.t_s, self.fitted_kw, left=0.0, right=0.0)


def fit_energy(
    motion: Motion,
    evidence: EnergyEvidence,
    expected: Expected,
    road_load: RoadLoad | None = None,
) -> EnergyCurve | None:
    """The energy curve of a run; None when no reading bounds it."""
    if not evidence.bounds:
        return None
    at_s = np.array([bound.moment.t_s for bound in evidence.bounds])
    from_s = np.array([bound.since_s for bound in evidence.bounds])
    timing_s = np.array([bound.moment.sd_s for bound in evidence.bounds])
    expected_kw = np.gradient(expected.work_kwh, expected.t_s) * 3600
    power_kw = np.interp(at_s, expected.t_s, expected_kw, left=0.0, right=0.0)
    timing_kwh = power_kw * timing_s / 3600
    other_kwh = np.array([bound.noise_kwh for bound in evidence.bounds])

    both_s = np.concatenate([at_s, from_s])
    own_var_kwh2 = kinetic_sd_kwh(motion, road_load, both_s) ** 2

    def conditioned() -> IntervalProcess:
        return condition(
            places=replace(_places(expected, both_s), own_var_kwh2=own_var_kwh2),
            low_kwh=np.array([bound.low_kwh for bound in evidence.bounds]),
            high_kwh=np.array([bound.high_kwh for bound in evidence.bounds]),
            noise_kwh=np.maximum(np.hypot(timing_kwh, other_kwh), 1e-3),
            origin=np.array([bound.origin for bound in evidence.bounds]),
            share_sd=expected.share_sd,
            aside_sd=expected.asides_sd,
            height_sd_kwh=expected.height_sd_kwh,
            walk_log_sd=LOCAL_LOG_SD,
        )

    process = conditioned()
    if expected.unseen_var_kwh2[-1] > 0:
        # what a gap may hide is as many times the expected work as all the rest
        scale = max(process.share, _LEAST_SHARE) ** 2
        expected = replace(expected, unseen_var_kwh2=scale * expected.unseen_var_kwh2)
        process = conditioned()
    first = _places(expected, np.min(from_s, keepdims=True))
    last = _places(expected, np.max(at_s, keepdims=True))
    share = _fitted_share(process, first, last)
    return EnergyCurve(
        motion=motion,
        expected=expected,
        process=process,
        road_load=road_load,
        share=share,
        fitted_kw=share * expected_kw,
        readings_s=np.sort(at_s),
    )


def _places(expected: Expected, t_s: FloatArray) -> Places:
    return Places(
        expected.at(t_s, expected.work_kwh),
        expected.at(t_s, expected.walk_var_kwh2),
        expected.at(t_s, expected.way_m) / HILL_M,
        expected.asides_at(t_s),
        expected.at(t_s, expected.unseen_var_kwh2),
        np.zeros(t_s.size),
    )


def _fitted_share(process: IntervalProcess, first: Places, last: Places) -> float:
    """Energy per expected work over the stretch that the readings span."""
    work_kwh = float(last.work_kwh[0] - first.work_kwh[0])
    if work_kwh <= 0:
        return 1.0
    mean, _ = process.difference(first, last)
    return float(max(mean[0], 0.0) / work_kwh)
