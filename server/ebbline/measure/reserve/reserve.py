"""Zero, and the reserve from there to the moment the car could no longer drive."""

from __future__ import annotations

import math

from ebbline.measure import quantity
from ebbline.measure.reserve.span import Span
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment, TimedEvent
from ebbline.records.result import EndOfReserve, FromOtherZero, Quantity, Reserve, Zero
from ebbline.records.setup import Pack, Protocol


def zero_of(run: Run, span: Span, protocol: Protocol) -> Zero:
    """The zero of the result document: its basis and what else happened around it."""
    if span.zero is None:
        return Zero(None, None, None, None)
    moments = [span.zero]
    after: dict[str, int] = {}
    reset = run.events.last("trip_reset", span.zero.t_s + 600)
    for kind, other in (("trip_reset", reset), ("zero_range", run.events.first("zero_range"))):
        if other is not None:
            after[kind] = len(moments)
            moments.append(other.moment)
    placed = run.distances(moments)

    def past_zero(kind: str) -> Quantity | None:
        return placed.between(0, after[kind]) if placed and kind in after else None

    return Zero(
        basis=span.zero_basis,
        t_ms=round(span.zero.t_s * 1000),
        trip_reset_after_m=past_zero("trip_reset"),
        zero_range_after_m=past_zero("zero_range"),
    )


def reserve_of(run: Run, span: Span, pack: Pack) -> Reserve:
    """Distance, energy and time from zero to the end; null where the car never got there."""
    ends_at = span.end.event.kind if span.end else None
    ended_by = span.end.event.id if span.end else None
    if not span.driven or span.zero is None or span.end is None:
        return Reserve(
            None, None, None, None, span.shut_down_before_zero, ends_at, end_event_id=ended_by
        )
    start, end = span.zero, span.end.moment
    counted = _until(run, start, span.end)
    energy = counted.energy_kwh
    share = None
    if pack.usable_kwh:
        share = quantity.scaled(energy, 100 / pack.usable_kwh)
    return Reserve(
        distance_m=counted.distance_m,
        energy_kwh=energy,
        duration_s=_duration(start, end),
        share_of_usable_pct=share,
        shut_down_before_zero=False,
        ends_at=ends_at,
        end_event_id=ended_by,
        first_end=_past_zero(run, start, span.ends.first),
        last_end=_past_zero(run, start, span.ends.last),
        basis=_basis(run, [start, end], counted.distance_m),
        from_zero_range=_from_other(run, span, "zero_range"),
        from_zero_soc=_from_other(run, span, "zero_soc"),
    )


def _basis(run: Run, ends: list[Moment], distance: Quantity | None) -> str | None:
    """What the distance is known by; None where it isn't known."""
    return None if run.motion is None or distance is None else run.motion.basis(ends)


def _from_other(run: Run, span: Span, kind: str) -> FromOtherZero | None:
    """The same end from another zero; None where that was not noted, or is the one that counts."""
    other = run.events.first(kind)
    if other is None or span.end is None or kind == span.zero_basis:
        return None
    counted = _until(run, other.moment, span.end)
    return FromOtherZero(counted.distance_m, counted.energy_kwh)


def _past_zero(run: Run, zero: Moment, end: TimedEvent | None) -> EndOfReserve | None:
    return None if end is None or end.moment.t_s <= zero.t_s else _until(run, zero, end)


def _until(run: Run, start: Moment, end: TimedEvent) -> EndOfReserve:
    """Distance and energy from a moment to an end after it."""
    placed = run.distances([start, end.moment])
    return EndOfReserve(
        event_id=end.event.id,
        distance_m=quantity.not_negative(placed.between(0, 1)) if placed else None,
        energy_kwh=quantity.not_negative(run.energy_between(start, [end.moment])[0]),
    )


def _duration(start: Moment, end: Moment) -> Quantity | None:
    return quantity.normal(end.t_s - start.t_s, math.hypot(start.sd_s, end.sd_s), floor=0.0)
