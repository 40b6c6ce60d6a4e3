"""What the car's own trip meter showed at the end, which is what anybody who watched will hold
against our figures.
"""

from __future__ import annotations

import math

from ebbline.measure.reserve.span import Span
from ebbline.measure.run import Run
from ebbline.measure.time.moments import TimedReading
from ebbline.measure.units import factor
from ebbline.records.result import Quantity, Shown


def shown_of(run: Run, span: Span, readings: list[TimedReading]) -> Shown | None:
    """The last trip distance and energy on record of the drive to the end that counts.

    Readings after the end show the same, or what the car still rolled; they count until somebody
    restarts or plugs in. None where neither figure was noted.
    """
    until_s = _until_s(run, span)
    last = {
        timed.reading.quantity: timed
        for timed in sorted(readings, key=lambda timed: timed.moment.t_s)
        if timed.reading.quantity in ("trip_distance", "trip_energy")
        and timed.reading.value is not None
        and timed.moment.t_s < until_s
    }
    if not last:
        return None
    distance, energy = last.get("trip_distance"), last.get("trip_energy")
    return Shown(
        trip_distance_m=_figure(distance, "m"),
        trip_energy_kwh=_figure(energy, "kWh"),
        reading_ids=tuple(timed.reading.id for timed in (distance, energy) if timed),
        reset_after_zero_m=_reset_after_zero(run, span, last),
    )


def _until_s(run: Run, span: Span) -> float:
    plugged = run.events.first("plug_in") or run.events.first("charge_start")
    restarted = run.events.first("restart", span.end.moment.t_s) if span.end else None
    return min((timed.moment.t_s for timed in (plugged, restarted) if timed), default=math.inf)


def _figure(timed: TimedReading | None, unit: str) -> float | None:
    if timed is None or timed.reading.value is None:
        return None
    return timed.reading.value * factor(timed.reading.unit, unit)


def _reset_after_zero(run: Run, span: Span, last: dict[str, TimedReading]) -> Quantity | None:
    """From zero to the reset that the figures count from; negative where it came before."""
    read_s = max(timed.moment.t_s for timed in last.values())
    reset = run.events.last("trip_reset", read_s)
    if span.zero is None or reset is None:
        return None
    placed = run.distances([span.zero, reset.moment])
    return placed.between(0, 1) if placed else None
