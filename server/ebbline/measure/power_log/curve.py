"""Energy from a log of voltage and current: a second curve, independent of the display's.

The power between samples is taken to run straight (the trapezoidal rule). What that may miss is
judged by leaving out every second sample; a gap is bridged with the uncertainty of the power's own
spread; and the recorder's scale and its clock may be off. The display doesn't enter, so that the
two curves check each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.energy.integral import from_voltage_and_current_kwh
from ebbline.measure.numerics.trapezoids import integral_so_far
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.time.moments import Moment
from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.curves import Band
from ebbline.records.evidence import PowerLog
from ebbline.records.result import Quantity

# Scale error of a recorder's power, one standard deviation (common practice, no source): shunts
# and Hall sensors in vehicles are specified to about this.
GAIN_SD = 0.01
# Of a recorder whose clock nobody compared with the session's (common practice, no source).
UNCHECKED_CLOCK_SD_S = 2.0
GAP_S, GAP_STEPS = 5.0, 5.0  # longer than both, the latter times the usual step, is a gap
DRAWN_POINTS = 5000


@dataclass(frozen=True, slots=True, eq=False)
class LogCurve:
    """Power and energy of one log on session time.

    At the samples (n,), n >= 2: ``t_s`` never going back, power, energy since the first sample,
    and the sums from which the uncertainty of any stretch is taken: what every second sample alone
    would have missed, that squared step by step, and the variance of the gaps. ``gap`` (n - 1,)
    marks the steps that are gaps.
    """

    device: str
    source: str
    clock_sd_s: float
    t_s: FloatArray
    power_kw: FloatArray
    energy_kwh: FloatArray
    missed_kwh: FloatArray
    missed_square_kwh2: FloatArray
    gap_var_kwh2: FloatArray
    gap: BoolArray

    def since(self, start_s: float, at_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Energy from one exact moment to others (k,): means and standard deviations, kWh.

        NaN outside the log.
        """
        begin = np.array([start_s])
        energy = self._energy_at(at_s) - self._energy_at(begin)

        def change(sums: FloatArray) -> FloatArray:
            return np.asarray(np.interp(at_s, self.t_s, sums) - np.interp(begin, self.t_s, sums))

        variance = (
            change(self.missed_kwh) ** 2
            + np.abs(change(self.missed_square_kwh2))
            + np.abs(change(self.gap_var_kwh2))
            + (GAIN_SD * energy) ** 2
        )
        return energy, np.asarray(np.sqrt(variance))

    def between(self, start: Moment, end: Moment) -> Quantity | None:
        """Energy between two moments with the uncertainty of both; None outside the log."""
        energy, sd = self.since(start.t_s, np.array([end.t_s]))
        power_kw = self.power_at(np.array([start.t_s, end.t_s]))
        clock_kw = float(power_kw[1] - power_kw[0]) * self.clock_sd_s  # it shifts both ends alike
        timing_kw = power_kw * [start.sd_s, end.sd_s]
        timing = math.hypot(*(float(part) for part in timing_kw), clock_kw) / 3600
        return quantity.normal(float(energy[0]), math.hypot(float(sd[0]), timing))

    def power_at(self, at_s: FloatArray) -> FloatArray:
        """Power at moments (k,), kW; the nearest sample's outside the log."""
        return np.interp(at_s, self.t_s, self.power_kw)

    def past(self, zero: Moment | None) -> tuple[IntArray, Band]:
        """Energy past zero for drawing: session time in milliseconds (m,) and its band, at no
        more than ``DRAWN_POINTS`` samples; nothing where the log doesn't hold zero.
        """
        if zero is None or not self.covers(zero.t_s):
            return np.empty(0, dtype=np.int64), Band(*(np.empty(0) for _ in range(3)))
        first = int(np.searchsorted(self.t_s, zero.t_s))
        count = min(self.t_s.size - first, DRAWN_POINTS)
        rows = np.unique(np.rint(np.linspace(first, self.t_s.size - 1, count)).astype(np.int64))
        at_s = np.concatenate([[zero.t_s], self.t_s[rows]])
        value, sd = self.since(zero.t_s, at_s)
        timing = float(self.power_at(np.array([zero.t_s]))[0]) * zero.sd_s / 3600
        half = quantity.COVERAGE_FACTOR * np.hypot(sd, timing)
        return np.rint(at_s * 1000).astype(np.int64), Band(value, value - half, value + half)

    def covers(self, at_s: float) -> bool:
        """Whether a moment lies within the log."""
        return bool(self.t_s[0] <= at_s <= self.t_s[-1])

    def _energy_at(self, at_s: FloatArray) -> FloatArray:
        """The integral of the straight lines between the samples, exactly."""
        last = self.t_s.size - 2
        step = np.clip(np.searchsorted(self.t_s, at_s, side="right") - 1, 0, last)
        length_s = self.t_s[step + 1] - self.t_s[step]
        rise_kw = self.power_kw[step + 1] - self.power_kw[step]
        slope = np.divide(rise_kw, length_s, out=np.zeros_like(rise_kw), where=length_s > 0)
        past_s = at_s - self.t_s[step]
        grown = (self.power_kw[step] * past_s + slope * past_s**2 / 2) / 3600
        inside = (self.t_s[0] <= at_s) & (at_s <= self.t_s[-1])
        return np.where(inside, self.energy_kwh[step] + grown, np.nan)


def curve_of(log: PowerLog, clock: DeviceClock) -> LogCurve | None:
    """The curve of one log; None without two samples of power.

    Voltage times current where both are logged, else the logged power. Rows of voltage and of
    current may alternate: voltage, which changes slowly, is interpolated to the current's rows.
    """
    t_s = session_s(log, clock)
    both = np.isfinite(log.voltage_v).any() and np.isfinite(log.current_a).any()
    if both:
        voltage_v = _between_known(t_s, log.voltage_v)
        known = np.isfinite(voltage_v) & np.isfinite(log.current_a)
        power_kw = voltage_v * log.current_a / 1000
    else:
        known = np.isfinite(log.power_kw)
        power_kw = log.power_kw
    if np.count_nonzero(known) < 2:
        return None
    t_s, power_kw = t_s[known], power_kw[known]
    if both:
        energy_kwh = from_voltage_and_current_kwh(t_s, voltage_v[known], log.current_a[known])
    else:
        energy_kwh = integral_so_far(t_s, power_kw) / 3600
    step_s = np.diff(t_s)
    gap = step_s > _gap_length_s(step_s)
    missed = _missed_kwh(t_s, power_kw, gap)
    return LogCurve(
        device=log.device,
        source="voltage and current" if both else "power",
        clock_sd_s=clock.device.clock_offset_sd_ms / 1000 or UNCHECKED_CLOCK_SD_S,
        t_s=t_s,
        power_kw=power_kw,
        energy_kwh=energy_kwh,
        missed_kwh=np.cumsum(missed),
        missed_square_kwh2=np.cumsum(missed**2),
        gap_var_kwh2=_sums(np.where(gap, step_s * np.std(power_kw) / 3600, 0.0) ** 2),
        gap=gap,
    )


def session_s(log: PowerLog, clock: DeviceClock) -> FloatArray:
    """Session time (n,) of a log's rows, seconds since the epoch."""
    if all(part.shift_ms == 0 for part in clock.parts):
        return np.asarray((log.t_ms + clock.device.clock_offset_ms) / 1000)
    return np.array([clock.session_ms_of_tap(float(t_ms)) for t_ms in log.t_ms]) / 1000


def _between_known(t_s: FloatArray, values: FloatArray) -> FloatArray:
    """Values (n,) with what is unknown interpolated between known ones not too far apart."""
    known = np.flatnonzero(np.isfinite(values))
    filled = np.interp(t_s, t_s[known], values[known], left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(t_s[known], t_s), 1, max(known.size - 1, 1))
    if known.size > 1:
        apart_s = t_s[known[after]] - t_s[known[after - 1]]
        filled[apart_s > _gap_length_s(np.diff(t_s[known]))] = np.nan
    filled[known] = values[known]
    return filled


def _gap_length_s(step_s: FloatArray) -> float:
    """Beyond this a step is a gap."""
    moving = step_s[step_s > 0]
    return max(GAP_S, GAP_STEPS * float(np.median(moving)) if moving.size else 0.0)


def _missed_kwh(t_s: FloatArray, power_kw: FloatArray, gap: BoolArray) -> FloatArray:
    """At every second sample (n,): what the straight line past it would have missed."""
    missed = np.zeros(t_s.size)
    middle = np.arange(1, t_s.size - 1, 2)
    before, after = middle - 1, middle + 1
    whole_s = t_s[after] - t_s[before]
    # Two triangles on the line from before to after, with the middle sample as their apex.
    share = np.divide(
        t_s[middle] - t_s[before], whole_s, out=np.zeros(middle.size), where=whole_s > 0
    )
    on_line_kw = power_kw[before] + share * (power_kw[after] - power_kw[before])
    area = (power_kw[middle] - on_line_kw) * whole_s / 2 / 3600
    missed[middle] = np.where(gap[before] | gap[middle], 0.0, area)
    return missed


def _sums(steps: FloatArray) -> FloatArray:
    """Running sums at the samples (n,) of what n - 1 steps add."""
    return np.concatenate([[0.0], np.cumsum(steps)])
