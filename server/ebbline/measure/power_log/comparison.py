"""The reserve by a log, and the log against the display."""

from __future__ import annotations

import math
from itertools import pairwise

from ebbline.measure import quantity
from ebbline.measure.energy.bounds import EnergyBound, energy_bounds
from ebbline.measure.power_log.curve import LogCurve
from ebbline.measure.reserve.span import Span
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.records.result import AgainstDisplay, Finding, LoggedEnergy, Quantity, Reserve

_CONTRADICTION_SD = 3.0


def logged_energy(
    curve: LogCurve | None,
    span: Span,
    reserve: Reserve,
    readings: list[TimedReading],
    events: Events,
) -> tuple[LoggedEnergy | None, list[Finding]]:
    """The reserve by the log, and the log against the display; None without a log.

    Args:
        curve: the log, if there is one.
        span: zero and the end of the reserve.
        reserve: the same by the display, with the distance.
        readings: every timed reading of the session.
        events: every timed event, for the resets of the trip meter.
    """
    if curve is None:
        return None, []
    findings = []
    reserve_kwh = None
    if span.driven and span.zero is not None and span.end is not None:
        reserve_kwh = curve.between(span.zero, span.end.moment)
        if reserve_kwh is None:
            findings.append(_too_short(curve, span.zero, span.end.moment))
    against, said = _against_display(
        curve, readings, [timed.moment for timed in events.of("trip_reset")]
    )
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
                f"both uncertainties allow.",
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
    """The longest series of trip energy readings within the log, first to last, against the log."""
    series = _series(curve, readings, resets)
    findings = [finding for row in series for finding in _contradictions(curve, row)]
    if not series:
        return None, findings
    longest = max(series, key=lambda row: row[-1].moment.t_s - row[0].moment.t_s)
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
                    else "The difference is more than both uncertainties allow: check the log's "
                    "scale and clock, and what the display leaves out."
                ),
                f"power_log.against_display, readings {longest[0].reading_id} and "
                f"{longest[-1].reading_id}",
            )
        )
    return AgainstDisplay(ratio, agrees), findings


def _series(
    curve: LogCurve, readings: list[TimedReading], resets: list[Moment]
) -> list[list[EnergyBound]]:
    """Readings of trip energy within the log that count from one reset, the reset in front."""
    trips = [timed for timed in readings if timed.reading.quantity == "trip_energy"]
    evidence = energy_bounds(trips, resets, -math.inf, lambda _from_s, _to_s: (math.nan, math.nan))
    series: dict[float, list[EnergyBound]] = {}
    for reset in resets:
        if curve.covers(reset.t_s):
            at_reset = EnergyBound("at the reset", "trip_reset", reset, reset.t_s, 0, 0.0, 0.0, 0.0)
            series[reset.t_s] = [at_reset]
    for bound in evidence.bounds:
        if curve.covers(bound.moment.t_s):
            series.setdefault(bound.since_s, []).append(bound)
    return [row for row in series.values() if len(row) > 1]


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
