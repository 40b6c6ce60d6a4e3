"""The charge as a curve: power as the display showed it, energy by its counter.

Energy follows the integral of the shown power, times a share near 1 that is fitted, plus a
random walk for what rounding and the steps between readings leave open; the counter's readings
bound it (``interval_process``). With no power readings the counter is interpolated in time, and
between two of its readings the energy may have come at any moment.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.numerics.interval_process import IntervalProcess, Places, condition
from ebbline.measure.recharge.phases import Phases, find_phases
from ebbline.measure.recharge.power_between import CARRIED_S, power_band, power_steps
from ebbline.measure.recharge.shown import Shown
from ebbline.records.arrays import FloatArray
from ebbline.records.curves import Band
from ebbline.records.result import Quantity

POWER_SHARE_SD = 0.05  # shown power against the counter (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class ChargeCurve:
    """Power through its readings and energy since plug-in on knots (k,) in time.

    Past ``known_until_s`` nothing is known of either: full power wasn't seen to settle before.
    """

    plug_in_s: float
    start_s: float
    end_s: float
    known_until_s: float
    power: Shown
    counter: Shown
    phases: Phases
    knot_s: FloatArray
    work_kwh: FloatArray
    walk_var_kwh2: FloatArray
    process: IntervalProcess | None

    def energy(self, from_s: FloatArray, to_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Energy between pairs of moments (k,), kWh: means, NaN where they aren't known, and
        standard deviations.
        """
        start, end = self._places(from_s), self._places(to_s)
        if self.process is not None:
            mean, sd = self.process.difference(start, end)
        else:
            mean = end.work_kwh - start.work_kwh
            walk = np.abs(end.walk_var_kwh2 - start.walk_var_kwh2)
            sd = np.sqrt((POWER_SHARE_SD * mean) ** 2 + walk)
        known = np.maximum(from_s, to_s) <= self.known_until_s
        return np.where(known, np.maximum(mean, 0.0), np.nan), sd

    def taken_in(self, after_s: float, by_s: float, sd_s: float) -> Quantity | None:
        """Energy since plug-in at a moment between two, both unsure by ``sd_s``."""
        mean, sd = self.energy(np.full(2, self.plug_in_s), np.array([after_s, by_s]))
        pace = float(self.power_kw(np.array([by_s]))[0]) / 3600
        timing = (pace if math.isfinite(pace) else 0.0) * sd_s
        doubt = math.hypot(float(np.max(sd)), timing, float(mean[1] - mean[0]) / math.sqrt(12))
        found = quantity.normal(float(np.mean(mean)), doubt, floor=0.0)
        if found is None or self.power.t_s.size:
            return found
        # However unevenly it came between two readings of the counter, it was no less than the
        # one and no more than the other.
        reach_s = quantity.COVERAGE_FACTOR * sd_s
        before = int(np.searchsorted(self.counter.t_s, after_s - reach_s, side="right"))
        after = int(np.searchsorted(self.counter.t_s, by_s + reach_s))
        least = np.concatenate([[0.0], self.counter.low])[before]
        most = np.concatenate([self.counter.high, [np.inf]])[after]
        return quantity.within(found, float(least), float(most))

    def power_kw(self, t_s: FloatArray) -> FloatArray:
        """Power at moments (k,), kW: between readings linear, by the counter without any."""
        return self.power_band(t_s).value

    def power_band(self, t_s: FloatArray) -> Band:
        """Power at moments (k,), kW, with what the readings allow; NaN where it isn't known.

        Between two readings of one level it is that level, between two others anything from one to
        the other. Without any it is the mean over each step of the counter.
        """
        if self.power.t_s.size:
            band = power_band(self.power, self.phases, t_s)
        else:
            band = _mean_power(self.counter, self.start_s, t_s)
        charging, known = t_s >= self.start_s, t_s <= self.known_until_s
        value, low, high = (
            np.where(known, np.where(charging, np.maximum(part, 0.0), 0.0), np.nan)
            for part in (band.value, band.low, band.high)
        )
        return Band(value, low, high)

    def _places(self, t_s: FloatArray) -> Places:
        return Places.plain(
            np.interp(t_s, self.knot_s, self.work_kwh),
            np.interp(t_s, self.knot_s, self.walk_var_kwh2),
        )


def charge_curve(
    power: Shown, counter: Shown, plug_in_s: float, start_s: float, end_s: float
) -> ChargeCurve | None:
    """The curve from plug-in to the end of the record; None without power and counter."""
    if power.t_s.size == 0 and counter.t_s.size == 0:
        return None
    phases = find_phases(power)
    last_s = max([*power.t_s, *counter.t_s])
    knot_s = np.unique(
        np.concatenate(
            [[plug_in_s, start_s, end_s, min(last_s + CARRIED_S, end_s)], power.t_s, counter.t_s]
        )
    )
    if power.t_s.size:
        work_kwh, walk_var_kwh2 = _by_power(power, counter, phases, knot_s, start_s)
    else:
        work_kwh, walk_var_kwh2 = _by_counter(counter, knot_s, start_s)
    process = None
    if counter.t_s.size:
        at = np.concatenate([counter.t_s, np.full(counter.t_s.size, plug_in_s)])
        rate = np.interp(counter.t_s, knot_s, np.gradient(work_kwh, knot_s))
        process = condition(
            places=Places.plain(
                np.interp(at, knot_s, work_kwh),
                np.interp(at, knot_s, walk_var_kwh2),
            ),
            low_kwh=counter.low,
            high_kwh=counter.high,
            noise_kwh=np.maximum(rate * counter.sd_s, 1e-3),
            origin=np.zeros(counter.t_s.size, dtype=np.int64),
            share_sd=POWER_SHARE_SD,
        )
    return ChargeCurve(
        plug_in_s=plug_in_s,
        start_s=start_s,
        end_s=end_s,
        known_until_s=math.inf if np.any(phases.full) else last_s + CARRIED_S,
        power=power,
        counter=counter,
        phases=phases,
        knot_s=knot_s,
        work_kwh=work_kwh,
        walk_var_kwh2=walk_var_kwh2,
        process=process,
    )


def _by_power(
    power: Shown, counter: Shown, phases: Phases, knot_s: FloatArray, start_s: float
) -> tuple[FloatArray, FloatArray]:
    """Work and its walk variance at the knots, from shown power; nothing before the start."""
    later = counter.t_s > power.t_s[-1]
    pace_kw = _mean_power(counter, start_s, counter.t_s[later] - 1e-3).value
    open_kw = max([float(power.middle[-1]), *pace_kw])
    steps = power_steps(power, phases, knot_s, open_kw)
    step_h = np.diff(knot_s) / 3600
    charging = knot_s[:-1] >= start_s
    # At an unknown moment of a step by dt, a change by d leaves d dt/sqrt(12).
    from_steps = steps.unseen_kw * step_h / np.sqrt(12)
    # Rounding stays on one side while the figure doesn't change, so it adds up over such a run.
    rounding = np.interp(knot_s, power.t_s, (power.high - power.low) / np.sqrt(12))
    level = np.where(knot_s < start_s, 0.0, np.interp(knot_s, power.t_s, power.middle))
    from_rounding = rounding[:-1] ** 2 * _run_lengths(step_h, level) * step_h
    variance = (from_steps**2 + from_rounding) * charging
    return _summed(steps.mean_kw * step_h * charging), _summed(variance)


def _by_counter(
    counter: Shown, knot_s: FloatArray, start_s: float
) -> tuple[FloatArray, FloatArray]:
    """Work and its walk variance at the knots, from the counter alone.

    Past its last reading it goes on at the last pace, with a standard deviation as large as what
    that adds.
    """
    shown_s = np.concatenate([[start_s], counter.t_s])
    shown_kwh = np.maximum.accumulate(np.concatenate([[0.0], counter.middle]))
    pace_kw = _mean_power(counter, start_s, counter.t_s[-1:] - 1e-3).value
    past_h = np.maximum(knot_s - counter.t_s[-1], 0.0) / 3600
    work_kwh = np.interp(knot_s, shown_s, shown_kwh) + pace_kw * past_h
    return work_kwh, _summed(np.diff(work_kwh) ** 2)


def _mean_power(counter: Shown, start_s: float, t_s: FloatArray) -> Band:
    """Mean power over the step of the counter in which each moment lies, (k,); the last one's
    past the last.
    """
    step_h = np.diff(np.concatenate([[start_s], counter.t_s])) / 3600
    step_h = np.maximum(step_h, 1e-6)
    low, high = np.concatenate([[0.0], counter.low]), np.concatenate([[0.0], counter.high])
    least_kw = np.maximum(low[1:] - high[:-1], 0.0) / step_h
    most_kw = np.maximum(high[1:] - low[:-1], 0.0) / step_h
    at = np.clip(np.searchsorted(counter.t_s, t_s), 0, max(counter.t_s.size - 1, 0))
    return Band(((least_kw + most_kw) / 2)[at], least_kw[at], most_kw[at])


def _run_lengths(step: FloatArray, level: FloatArray) -> FloatArray:
    """For each step, how long the figure it starts with stays unchanged in all."""
    changed = np.concatenate([[True], np.diff(level) != 0])
    group = np.cumsum(changed)[:-1]
    return np.asarray(np.bincount(group, weights=step)[group])


def _summed(steps: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(steps)])
