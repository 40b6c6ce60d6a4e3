"""The rule for zero and for the end of the reserve."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

from ebbline.measure.naming import event_name
from ebbline.measure.time.moments import Events, Moment, TimedEvent
from ebbline.records import (
    Finding,
    Protocol,
    ReserveEnd,
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


def find_span(events: Events, protocol: Protocol) -> tuple[Span, list[Finding]]:
    """Zero by the protocol's basis, else 0 % shown, else 0 range shown; then the end after it.

    The end is the protocol's choice of event, else the first found of ``END_KINDS``.
    """
    basis, zero = _zero(events, protocol)
    plugged = events.first("plug_in") or events.first("charge_start")
    before_s = plugged.moment.t_s if plugged else math.inf
    ends = _first_choice(protocol.reserve_end, END_KINDS)
    end = next((found for kind in ends if (found := events.last(kind, before_s))), None)
    early = end is not None and (zero is None or end.moment.t_s <= zero.t_s)
    span = Span(zero, basis, end, early)
    return span, _say(span, protocol)


def _zero(events: Events, protocol: Protocol) -> tuple[ZeroBasis | None, Moment | None]:
    if protocol.zero_basis == "moment" and protocol.zero_ms is not None:
        return "moment", Moment(protocol.zero_ms / 1000, 0.0)
    for kind in _first_choice(protocol.zero_basis, ZERO_KINDS):
        if found := events.first(kind):
            return kind, found.moment
    return None, None


def _first_choice(chosen: Kind | None, usual: tuple[Kind, ...]) -> tuple[Kind, ...]:
    """The usual order with the chosen one first."""
    if chosen is None:
        return usual
    return (chosen, *(kind for kind in usual if kind != chosen))


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
