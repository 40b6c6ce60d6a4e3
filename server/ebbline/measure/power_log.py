"""Energy from a log of voltage and current: a second curve, independent of the display's.

The power between samples is taken to run straight (the trapezoidal rule). What that may miss is
judged by leaving out every second sample; a gap is bridged with the doubt of the power's own
spread; and the recorder's scale and its clock may be off. The display doesn't enter, so that the
two curves check each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.integrate import cumulative_trapezoid

from ebbline.measure import quantity
from ebbline.measure.clock import DeviceClock, Moment
from ebbline.measure.energy import from_voltage_and_current_kwh
from ebbline.measure.evidence import EnergyBound, TimedReading, energy_bounds
from ebbline.measure.reserve import Span
from ebbline.records import (
    AgainstDisplay,
    Band,
    BoolArray,
    Finding,
    FloatArray,
    IntArray,
    LoggedEnergy,
    PowerLog,
    Quantity,
    Reserve,
)

# Scale error of a recorder's power, one standard deviation (common practice, no source): shunts
# and Hall sensors in vehicles are specified to about this.
GAIN_SD = 0.01
# Of a recorder whose clock nobody compared with the session's (common practice, no source).
UNCHECKED_CLOCK_SD_S = 2.0
GAP_S, GAP_STEPS = 5.0, 5.0  # longer than both, the latter times the usual step, is a gap
_CONTRADICTION_SD = 3.0
DRAWN_POINTS = 5000


@dataclass(frozen=True, slots=True, eq=False)
class LogCurve:
    """Power and energy of one log on session time.

    At the samples (n,), n >= 2: ``t_s`` never going back, power, energy since the first sample,
    and the sums from which the doubt of any stretch is taken: what every second sample alone
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
    missed_kwh2: FloatArray
    gap_kwh2: FloatArray
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
            + np.abs(change(self.missed_kwh2))
            + np.abs(change(self.gap_kwh2))
            + (GAIN_SD * energy) ** 2
        )
        return energy, np.asarray(np.sqrt(variance))

    def between(self, start: Moment, end: Moment) -> Quantity | None:
        """Energy between two moments with the doubt of both; None outside the log."""
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
    t_s = _session_s(log, clock)
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
        energy_kwh = np.asarray(cumulative_trapezoid(power_kw, t_s, initial=0) / 3600)
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
        missed_kwh2=np.cumsum(missed**2),
        gap_kwh2=_sums(np.where(gap, step_s * np.std(power_kw) / 3600, 0.0) ** 2),
        gap=gap,
    )


def choose_log(
    logs: tuple[PowerLog, ...], clocks: dict[str, DeviceClock], span: Span
) -> tuple[LogCurve | None, list[Finding]]:
    """The log that covers most of the reserve (of the time, without one); the latest of equals."""
    curves = []
    findings = []
    for index, log in enumerate(logs):
        curve = curve_of(log, clocks[log.device])
        if curve is None:
            findings.append(
                Finding(
                    "note",
                    "power_log_unusable",
                    f"The log of {log.device} holds no power, nor voltage and current together.",
                    f"logs[{index}]",
                )
            )
        else:
            curves.append(curve)
    if not curves:
        return None, findings

    def cover_s(curve: LogCurve) -> float:
        from_s = span.zero.t_s if span.zero else -math.inf
        to_s = span.end.moment.t_s if span.end and span.driven else math.inf
        return min(float(curve.t_s[-1]), to_s) - max(float(curve.t_s[0]), from_s)

    best = max(reversed(curves), key=cover_s)
    if len(curves) > 1:
        findings.append(
            Finding(
                "note",
                "power_log_chosen",
                f"{len(curves)} logs hold power; that of {best.device} is used: it covers most, or "
                f"as much as another and came later.",
                "logs",
            )
        )
    return best, findings + _gap_findings(best)


def logged_energy(
    curve: LogCurve | None,
    span: Span,
    reserve: Reserve,
    readings: list[TimedReading],
    resets: list[Moment],
) -> tuple[LoggedEnergy | None, list[Finding]]:
    """The reserve by the log, and the log against the display; None without a log.

    Args:
        curve: the log, if there is one.
        span: zero and the end of the reserve.
        reserve: the same by the display, with the distance.
        readings: every timed reading of the session.
        resets: moments the trip meter was reset.
    """
    if curve is None:
        return None, []
    findings = []
    reserve_kwh = None
    if span.driven and span.zero is not None and span.end is not None:
        reserve_kwh = curve.between(span.zero, span.end.moment)
        if reserve_kwh is None:
            findings.append(_too_short(curve, span.zero, span.end.moment))
    against, said = _against_display(curve, readings, resets)
    findings += said
    if (
        reserve_kwh is not None
        and reserve.energy_kwh is not None
        and not quantity.overlap(reserve_kwh, reserve.energy_kwh)
    ):
        findings.append(
            Finding(
                "doubt",
                "power_log_reserve",
                f"The reserve is {reserve_kwh.value:.2f} kWh by the log of {curve.device} and "
                f"{reserve.energy_kwh.value:.2f} kWh by the display; the difference is more than "
                f"both doubts allow.",
                "power_log.reserve_kwh",
            )
        )
    per_m = quantity.ratio(reserve_kwh, reserve.distance_m)
    figures = LoggedEnergy(
        device=curve.device,
        source=curve.source,
        reserve_kwh=reserve_kwh,
        past_zero_wh_per_km=quantity.scaled(per_m, 1e6),
        against_display=against,
    )
    return figures, findings


def _session_s(log: PowerLog, clock: DeviceClock) -> FloatArray:
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


def _gap_findings(curve: LogCurve) -> list[Finding]:
    gaps = np.flatnonzero(curve.gap)
    if gaps.size == 0:
        return []
    lasting_s = np.diff(curve.t_s)[gaps]
    longest = gaps[int(np.argmax(lasting_s))]
    return [
        Finding(
            "doubt",
            "power_log_gaps",
            f"The log of {curve.device} has {gaps.size} gap{'s' if gaps.size > 1 else ''}, "
            f"{np.sum(lasting_s):.0f} s in all, the longest {np.max(lasting_s):.0f} s from "
            f"{curve.t_s[longest] * 1000:.0f} ms on; "
            f"they are bridged, and the interval is wider for it.",
            f"log of {curve.device}",
        )
    ]


def _too_short(curve: LogCurve, zero: Moment, end: Moment) -> Finding:
    missing = [
        name
        for name, moment in (("zero", zero), ("the end of the reserve", end))
        if not curve.covers(moment.t_s)
    ]
    return Finding(
        "note",
        "power_log_short",
        f"The log of {curve.device} does not reach {' and '.join(missing)}, so it gives no "
        f"reserve.",
        f"log of {curve.device}",
    )


def _against_display(
    curve: LogCurve, readings: list[TimedReading], resets: list[Moment]
) -> tuple[AgainstDisplay | None, list[Finding]]:
    """The longest run of trip energy readings within the log, first to last, against the log."""
    runs = _runs(curve, readings, resets)
    findings = [finding for run in runs for finding in _contradictions(curve, run)]
    if not runs:
        return None, findings
    longest = max(runs, key=lambda run: run[-1].moment.t_s - run[0].moment.t_s)
    shown = _shown_between(longest[0], longest[-1])
    logged = curve.between(longest[0].moment, longest[-1].moment)
    if logged is None or shown is None or shown.low <= 0:
        return None, findings
    ratio = quantity.ratio(logged, shown)
    if ratio is None:
        return None, findings
    agrees = quantity.overlap(logged, shown)
    if not agrees:
        backwards = logged.value < 0
        findings.append(
            Finding(
                "doubt",
                "power_log_disagrees",
                f"Between {longest[0].named()} and {longest[-1].named()} the log of "
                f"{curve.device} counts {logged.value:.2f} kWh and the display "
                f"{shown.value:.2f} kWh. "
                + (
                    "The log seems to count backwards: was the sign of its current stated right?"
                    if backwards
                    else "The difference is more than both doubts allow: check the log's scale and "
                    "clock, and what the display leaves out."
                ),
                f"power_log.against_display, readings {longest[0].reading_id} and "
                f"{longest[-1].reading_id}",
            )
        )
    return AgainstDisplay(ratio, agrees), findings


def _runs(
    curve: LogCurve, readings: list[TimedReading], resets: list[Moment]
) -> list[list[EnergyBound]]:
    """Readings of trip energy within the log that count from one reset, the reset in front."""
    trips = [timed for timed in readings if timed.reading.quantity == "trip_energy"]
    evidence = energy_bounds(trips, resets, -math.inf, lambda _from_s, _to_s: (math.nan, math.nan))
    runs: dict[float, list[EnergyBound]] = {}
    for reset in resets:
        if curve.covers(reset.t_s):
            at_reset = EnergyBound("at the reset", "trip_reset", reset, reset.t_s, 0, 0.0, 0.0, 0.0)
            runs[reset.t_s] = [at_reset]
    for bound in evidence.bounds:
        if curve.covers(bound.moment.t_s):
            runs.setdefault(bound.since_s, []).append(bound)
    return [run for run in runs.values() if len(run) > 1]


def _shown_between(first: EnergyBound, last: EnergyBound) -> Quantity | None:
    """What the display says of the energy between: each end anywhere within its step."""
    value = (last.low_kwh + last.high_kwh - first.low_kwh - first.high_kwh) / 2
    widths = (first.high_kwh - first.low_kwh, last.high_kwh - last.low_kwh)
    return quantity.normal(value, math.hypot(*widths) / math.sqrt(12))  # JCGM 100:2008, 4.3.7


def _contradictions(curve: LogCurve, run: list[EnergyBound]) -> list[Finding]:
    """Neighbouring readings between which log and display can't both be right: the worst."""
    worst: tuple[float, EnergyBound, EnergyBound, Quantity] | None = None
    count = 0
    for first, last in pairwise(run):
        logged = curve.between(first.moment, last.moment)
        if logged is None:
            continue
        low, high = last.low_kwh - first.high_kwh, last.high_kwh - first.low_kwh
        outside = max(low - logged.value, logged.value - high)
        if outside <= _CONTRADICTION_SD * quantity.sd_of(logged):
            continue
        count += 1
        if worst is None or outside > worst[0]:
            worst = (outside, first, last, logged)
    if worst is None:
        return []
    _, first, last, logged = worst
    return [
        Finding(
            "doubt",
            "power_log_contradicts_readings",
            f"{_pairs(count)} the log of {curve.device}: between {first.named()} and "
            f"{last.named()} the display says {last.low_kwh - first.high_kwh:.2f} to "
            f"{last.high_kwh - first.low_kwh:.2f} kWh where the log counts {logged.value:.2f} kWh"
            f"{', the worst of them' if count > 1 else ''}.",
            f"readings {first.reading_id} and {last.reading_id}",
        )
    ]


def _pairs(count: int) -> str:
    if count == 1:
        return "Two neighbouring readings contradict"
    return f"{count} pairs of neighbouring readings contradict"
