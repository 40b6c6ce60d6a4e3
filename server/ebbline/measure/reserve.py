"""Zero, and the reserve from there to the moment the car could no longer drive."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ebbline.measure import quantity
from ebbline.measure.clock import Moment
from ebbline.measure.run import Run, TimedEvent
from ebbline.records import Finding, Pack, Protocol, Quantity, Reserve, Zero

ZERO_KINDS = ("zero_soc", "zero_range")
END_KINDS = ("propulsion_off", "contactors_open", "standstill")


@dataclass(frozen=True, slots=True)
class Span:
    """Where the reserve starts and ends; either may be unknown."""

    zero: TimedEvent | None
    end: TimedEvent | None
    shut_down_before_zero: bool

    @property
    def driven(self) -> bool:
        """Whether the car was driven past a known zero to a known end."""
        return self.zero is not None and self.end is not None and not self.shut_down_before_zero


def find_span(run: Run, protocol: Protocol) -> tuple[Span, list[Finding]]:
    """Zero by the protocol's basis, else 0 % shown, else 0 range shown; then the end after it."""
    order: list[str] = [protocol.zero_basis] if protocol.zero_basis else []
    order += [kind for kind in ZERO_KINDS if kind not in order]
    zero = next((found for kind in order if (found := run.first(kind))), None)
    plugged = run.first("plug_in") or run.first("charge_start")
    before_s = plugged.moment.t_s if plugged else math.inf
    end = next((found for kind in END_KINDS if (found := run.last(kind, before_s))), None)
    early = end is not None and (zero is None or end.moment.t_s <= zero.moment.t_s)
    return Span(zero, end, early), _say(zero, end, early, protocol)


def zero_of(run: Run, span: Span, protocol: Protocol) -> Zero:
    """The zero of the result document: its basis and what else happened around it."""
    if span.zero is None:
        return Zero(None, None, None, None)
    moments = [span.zero.moment]
    after: dict[str, int] = {}
    reset = run.last("trip_reset", span.zero.moment.t_s + 600)
    for kind, other in (("trip_reset", reset), ("zero_range", run.first("zero_range"))):
        if other is not None:
            after[kind] = len(moments)
            moments.append(other.moment)
    placed = run.distances(moments)

    def past_zero(kind: str) -> Quantity | None:
        return placed.between(0, after[kind]) if placed and kind in after else None

    return Zero(
        basis=span.zero.event.kind,
        t_ms=round(span.zero.moment.t_s * 1000),
        trip_reset_after_m=past_zero("trip_reset"),
        zero_range_after_m=past_zero("zero_range"),
    )


def reserve_of(run: Run, span: Span, pack: Pack) -> Reserve:
    """Distance, energy and time from zero to the end; null where the car never got there."""
    ends_at = span.end.event.kind if span.end else None
    if not span.driven or span.zero is None or span.end is None:
        return Reserve(None, None, None, None, span.shut_down_before_zero, ends_at)
    start, end = span.zero.moment, span.end.moment
    placed = run.distances([start, end])
    energy = quantity.not_negative(run.energy_between(start, [end])[0])
    share = None
    if pack.usable_kwh:
        share = quantity.scaled(energy, 100 / pack.usable_kwh)
    return Reserve(
        distance_m=quantity.not_negative(placed.between(0, 1)) if placed else None,
        energy_kwh=energy,
        duration_s=_duration(start, end),
        share_of_usable_pct=share,
        shut_down_before_zero=False,
        ends_at=ends_at,
    )


def _duration(start: Moment, end: Moment) -> Quantity | None:
    return quantity.normal(end.t_s - start.t_s, math.hypot(start.sd_s, end.sd_s), floor=0.0)


def _say(
    zero: TimedEvent | None, end: TimedEvent | None, early: bool, protocol: Protocol
) -> list[Finding]:
    findings = []
    if early:
        findings.append(
            Finding(
                "note",
                "shut_down_before_zero",
                "The car could no longer drive before it showed zero; there is no distance past "
                "zero.",
                "events",
            )
        )
    elif zero is None:
        findings.append(
            Finding(
                "note",
                "no_zero",
                "Neither 0 % nor 0 range was noted, so nothing can be counted from zero.",
                "events",
            )
        )
    elif end is None:
        findings.append(
            Finding(
                "doubt",
                "no_end",
                "Nothing notes the moment the car could no longer drive (propulsion off, "
                "contactors open or standstill), so the reserve has no end.",
                "events",
            )
        )
    if zero is not None and protocol.zero_basis not in (None, zero.event.kind):
        findings.append(
            Finding(
                "doubt",
                "other_zero",
                f"The protocol takes zero at {protocol.zero_basis}, which was not noted; "
                f"{zero.event.kind} is used.",
                "protocol.zero_basis",
            )
        )
    return findings
