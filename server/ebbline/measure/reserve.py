"""Zero, and the reserve from there to the moment the car could no longer drive."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

from ebbline.measure import quantity
from ebbline.measure.clock import Moment
from ebbline.measure.naming import event_name
from ebbline.measure.run import Run, TimedEvent
from ebbline.records import (
    Finding,
    Pack,
    Protocol,
    Quantity,
    Reserve,
    ReserveEnd,
    Zero,
    ZeroBasis,
)

ZERO_KINDS: tuple[ZeroBasis, ...] = ("zero_soc", "zero_range")
END_KINDS: tuple[ReserveEnd, ...] = ("propulsion_off", "contactors_open", "standstill")

Kind = TypeVar("Kind", bound=str)


@dataclass(frozen=True, slots=True)
class Span:
    """Where the reserve starts and ends; either may be unknown."""

    zero: Moment | None
    zero_basis: ZeroBasis | None
    end: TimedEvent | None
    shut_down_before_zero: bool

    @property
    def driven(self) -> bool:
        """Whether the car was driven past a known zero to a known end."""
        return self.zero is not None and self.end is not None and not self.shut_down_before_zero


def find_span(run: Run, protocol: Protocol) -> tuple[Span, list[Finding]]:
    """Zero by the protocol's basis, else 0 % shown, else 0 range shown; then the end after it.

    The end is the protocol's choice of event, else the first found of ``END_KINDS``.
    """
    basis, zero = _zero(run, protocol)
    plugged = run.first("plug_in") or run.first("charge_start")
    before_s = plugged.moment.t_s if plugged else math.inf
    ends = _first_choice(protocol.reserve_end, END_KINDS)
    end = next((found for kind in ends if (found := run.last(kind, before_s))), None)
    early = end is not None and (zero is None or end.moment.t_s <= zero.t_s)
    span = Span(zero, basis, end, early)
    return span, _say(span, protocol)


def _zero(run: Run, protocol: Protocol) -> tuple[ZeroBasis | None, Moment | None]:
    if protocol.zero_basis == "moment" and protocol.zero_ms is not None:
        return "moment", Moment(protocol.zero_ms / 1000, 0.0)
    for kind in _first_choice(protocol.zero_basis, ZERO_KINDS):
        if found := run.first(kind):
            return kind, found.moment
    return None, None


def _first_choice(chosen: Kind | None, usual: tuple[Kind, ...]) -> tuple[Kind, ...]:
    """The usual order with the chosen one first."""
    if chosen is None:
        return usual
    return (chosen, *(kind for kind in usual if kind != chosen))


def zero_of(run: Run, span: Span, protocol: Protocol) -> Zero:
    """The zero of the result document: its basis and what else happened around it."""
    if span.zero is None:
        return Zero(None, None, None, None)
    moments = [span.zero]
    after: dict[str, int] = {}
    reset = run.last("trip_reset", span.zero.t_s + 600)
    for kind, other in (("trip_reset", reset), ("zero_range", run.first("zero_range"))):
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
    if not span.driven or span.zero is None or span.end is None:
        return Reserve(None, None, None, None, span.shut_down_before_zero, ends_at)
    start, end = span.zero, span.end.moment
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


def _say(span: Span, protocol: Protocol) -> list[Finding]:
    findings = []
    if span.shut_down_before_zero:
        findings.append(
            Finding(
                "note",
                "shut_down_before_zero",
                "The car could no longer drive before it showed zero; there is no distance past "
                "zero.",
                "events",
            )
        )
    elif span.zero is None:
        findings.append(
            Finding(
                "note",
                "no_zero",
                "Neither 0 % nor 0 range was noted, so nothing can be counted from zero.",
                "events",
            )
        )
    elif span.end is None:
        findings.append(
            Finding(
                "doubt",
                "no_end",
                "Nothing notes the moment the car could no longer drive (propulsion off, "
                "contactors open or standstill), so the reserve has no end.",
                "events",
            )
        )
    if span.zero is not None and protocol.zero_basis not in (None, span.zero_basis):
        findings.append(
            Finding(
                "doubt",
                "other_zero",
                f"The protocol takes zero at {_quoted(protocol.zero_basis)}, which was not noted; "
                f"{_quoted(span.zero_basis)} is used.",
                "protocol.zero_basis",
            )
        )
    if span.end is not None and protocol.reserve_end not in (None, span.end.event.kind):
        findings.append(
            Finding(
                "doubt",
                "other_end",
                f"The protocol ends the reserve at {_quoted(protocol.reserve_end)}, which was not "
                f"noted; {_quoted(span.end.event.kind)} is used.",
                "protocol.reserve_end",
            )
        )
    return findings


def _quoted(kind: str | None) -> str:
    """What zero or end goes by, in words."""
    return "a chosen moment" if kind == "moment" else f"\u201c{event_name(kind or '')}\u201d"
