"""The charge as a curve: power as the display showed it, energy process by its counter.

Energy follows the integral of the shown power, times a share near 1 that is fitted, plus a
random walk for what rounding and the steps between readings leave open; the counter's readings
bound it (``process``). With no power readings the counter is interpolated in time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import cumulative_trapezoid

from ebbline.measure.display import interval_of
from ebbline.measure.numerics.interval_process import IntervalProcess, Places, condition
from ebbline.measure.time.moments import TimedReading
from ebbline.records import FloatArray

POWER_SHARE_SD = 0.05  # shown power against the counter (common practice, no source)
UNKNOWN_SHARE_SD = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Readings of one quantity in order: moments (n,), bounds (n,) and timing doubt (n,)."""

    t_s: FloatArray
    low: FloatArray
    high: FloatArray
    sd_s: FloatArray

    @property
    def middle(self) -> FloatArray:
        """The middle of what each reading allows, (n,)."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True, eq=False)
class ChargeCurve:
    """Power through its readings and energy since plug-in on knots (k,) in time."""

    plug_in_s: float
    end_s: float
    power: Shown
    counter: Shown
    knot_s: FloatArray
    work_kwh: FloatArray
    walk_var_kwh2: FloatArray
    process: IntervalProcess | None
    share_sd: float

    def energy(self, from_s: FloatArray, to_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Energy between pairs of moments (k,): means and standard deviations, kWh."""
        start, end = self._places(from_s), self._places(to_s)
        if self.process is not None:
            mean, sd = self.process.difference(start, end)
        else:
            mean = end.work_kwh - start.work_kwh
            walk = np.abs(end.walk_var_kwh2 - start.walk_var_kwh2)
            sd = np.sqrt((self.share_sd * mean) ** 2 + walk)
        return np.maximum(mean, 0.0), sd

    def power_kw(self, t_s: FloatArray) -> FloatArray:
        """Power at moments (k,), kW: between readings linear, by the counter without any."""
        if self.power.t_s.size:
            return np.asarray(np.interp(t_s, self.power.t_s, self.power.middle))
        if self.knot_s.size < 2:
            return np.full(t_s.size, np.nan)
        mean, _ = self.energy(np.full(self.knot_s.size, self.plug_in_s), self.knot_s)
        return np.asarray(np.interp(t_s, self.knot_s, np.gradient(mean, self.knot_s) * 3600))

    def _places(self, t_s: FloatArray) -> Places:
        return Places.plain(
            np.interp(t_s, self.knot_s, self.work_kwh),
            np.interp(t_s, self.knot_s, self.walk_var_kwh2),
        )


def shown(readings: list[TimedReading], quantity: str, after_s: float) -> Shown:
    """Readings of a quantity at or after a moment."""
    own = sorted(
        (r for r in readings if r.reading.quantity == quantity and r.moment.t_s >= after_s),
        key=lambda timed: timed.moment.t_s,
    )
    bounds = np.array([interval_of(r.reading) for r in own]).reshape(-1, 2)
    return Shown(
        t_s=np.array([r.moment.t_s for r in own]),
        low=np.maximum(bounds[:, 0], 0.0),
        high=bounds[:, 1],
        sd_s=np.array([r.moment.sd_s for r in own]),
    )


def charge_curve(
    power: Shown, counter: Shown, plug_in_s: float, start_s: float, end_s: float
) -> ChargeCurve | None:
    """The curve from plug-in to the end of the record; None without power and counter."""
    if power.t_s.size == 0 and counter.t_s.size == 0:
        return None
    knot_s = np.unique(np.concatenate([[plug_in_s, start_s, end_s], power.t_s, counter.t_s]))
    if power.t_s.size:
        work_kwh, walk_var_kwh2 = _by_power(power, knot_s, start_s)
        share_sd = POWER_SHARE_SD
    else:
        pace = float(counter.middle[-1]) / max(float(counter.t_s[-1]) - start_s, 1.0)
        work_kwh = np.maximum(knot_s - start_s, 0.0) * pace
        walk_var_kwh2 = 0.1 * work_kwh * max(float(work_kwh[-1]), 1e-6) / 12
        share_sd = UNKNOWN_SHARE_SD
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
            share_sd=share_sd,
        )
    return ChargeCurve(
        plug_in_s, end_s, power, counter, knot_s, work_kwh, walk_var_kwh2, process, share_sd
    )


def _by_power(power: Shown, knot_s: FloatArray, start_s: float) -> tuple[FloatArray, FloatArray]:
    """Work and its walk variance at the knots, from shown power; nothing before the start."""
    level = np.interp(knot_s, power.t_s, power.middle)
    level = np.where(knot_s < start_s, 0.0, level)
    step_s = np.diff(knot_s)
    charging = knot_s[:-1] >= start_s
    work_kwh = np.concatenate([[0.0], np.cumsum(_trapezoid_kwh(knot_s, level) * charging)])
    # Between two readings the power lies between them: a change by d over dt leaves d dt/sqrt(12).
    from_steps = np.abs(np.diff(level)) * step_s / 3600 / np.sqrt(12)
    # Rounding stays on one side while the figure doesn't change, so it adds up over such a run.
    rounding = np.interp(knot_s, power.t_s, (power.high - power.low) / np.sqrt(12))
    run_s = _run_lengths_s(knot_s, level)
    from_rounding = (rounding[:-1] / 3600) ** 2 * run_s * step_s
    variance = (from_steps**2 + from_rounding) * charging
    return work_kwh, np.concatenate([[0.0], np.cumsum(variance)])


def _trapezoid_kwh(t_s: FloatArray, power_kw: FloatArray) -> FloatArray:
    return np.asarray(np.diff(cumulative_trapezoid(power_kw, t_s, initial=0)) / 3600)


def _run_lengths_s(t_s: FloatArray, level: FloatArray) -> FloatArray:
    """For each step, how long the figure it starts with stays unchanged in all, seconds."""
    changed = np.concatenate([[True], np.diff(level) != 0])
    group = np.cumsum(changed)[:-1]
    step_s = np.diff(t_s)
    total = np.bincount(group, weights=step_s)
    return np.asarray(total[group])
