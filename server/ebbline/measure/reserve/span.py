"""The rule for zero, and the reserve's two ends together; ``ends`` has the rule for its end.

Zero needs nothing but the events at their moments and the protocol, so that whoever follows a drive
asks here too. The phone has the same rule in ``pwa/shared/rules.js``; both are held to the cases in
``tests/rules/cases.json``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ebbline.measure.naming import clock_time
from ebbline.measure.reserve.ends import Ends, find_ends
from ebbline.measure.time.moments import Events, Moment, TimedEvent
from ebbline.records.result import Finding
from ebbline.records.setup import Protocol
from ebbline.vocabulary import ZeroBasis, event_name

ZERO_KINDS: tuple[ZeroBasis, ...] = ("zero_soc", "zero_range")


@dataclass(frozen=True, slots=True)
class Span:
    """Where the reserve starts and ends; either may be unknown. ``ends``: all that may end it."""

    zero: Moment | None
    zero_basis: ZeroBasis | None
    ends: Ends
    shut_down_before_zero: bool

    @property
    def end(self) -> TimedEvent | None:
        """The end that counts."""
        return self.ends.counts

    @property
    def driven(self) -> bool:
        """Whether the car was driven past a known zero to a known end."""
        return self.zero is not None and self.end is not None and not self.shut_down_before_zero


def find_span(events: Events, protocol: Protocol) -> tuple[Span, list[Finding]]:
    """Zero by the protocol's basis, else 0 % shown, else range 0; then the end after it."""
    basis, zero = find_zero(events, protocol) or (None, None)
    ends, asked = find_ends(events, protocol, _plugged_in_s(events))
    end = ends.counts
    early = end is not None and (zero is None or end.moment.t_s <= zero.t_s)
    if early and end is not None and end.event.kind == "standstill" != protocol.reserve_end:
        span = Span(zero, basis, Ends(), shut_down_before_zero=False)
        return span, [_only_stood(end), *_say(span, protocol), *_tapped_again(events)]
    span = Span(zero, basis, ends, early)
    return span, [*_say(span, protocol), *asked, *_tapped_again(events)]


def _only_stood(end: TimedEvent) -> Finding:
    """A car stands for many reasons, and that it shut down early is said of it in public."""
    return Finding(
        "doubt",
        "stood_before_zero",
        f"The car stood at {clock_time(end.moment.t_s)}, before zero, and nothing notes that "
        f"it could no longer drive: the drive may have been broken off. If the car shut down, add "
        f"\u201c{event_name('propulsion_off')}\u201d, or let the reserve end at standstill.",
        f"event {end.event.id}",
    )


def find_zero(events: Events, protocol: Protocol) -> tuple[ZeroBasis, Moment] | None:
    """Zero by the protocol's basis, else 0 % shown, else range 0: the first tap of it."""
    if protocol.zero_basis == "moment" and protocol.zero_ms is not None:
        return "moment", Moment(protocol.zero_ms / 1000, 0.0)
    for kind in _first_choice(protocol.zero_basis):
        if found := events.first(kind):
            return kind, found.moment
    return None


def second_zeros(events: Events) -> list[TimedEvent]:
    """Taps of a zero that was tapped before, while driving; a charger may wake the display at 0."""
    until_s = _plugged_in_s(events)
    return [
        again for kind in ZERO_KINDS for again in events.of(kind)[1:] if again.moment.t_s < until_s
    ]


def _plugged_in_s(events: Events) -> float:
    plugged = events.first("plug_in") or events.first("charge_start")
    return plugged.moment.t_s if plugged else math.inf


def _first_choice(chosen: ZeroBasis | None) -> tuple[ZeroBasis, ...]:
    """The usual order with the chosen one first."""
    if chosen is None:
        return ZERO_KINDS
    return (chosen, *(kind for kind in ZERO_KINDS if kind != chosen))


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
                "Neither 0 % nor range 0 was noted, so nothing can be counted from zero.",
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
                f"The plan takes zero at {_quoted(protocol.zero_basis)}, which was not noted; "
                f"{_quoted(span.zero_basis)} is used.",
                "protocol.zero_basis",
            )
        )
    if span.end is not None and protocol.reserve_end not in (None, span.end.event.kind):
        findings.append(
            Finding(
                "doubt",
                "other_end",
                f"The plan ends the reserve at {_quoted(protocol.reserve_end)}, which was not "
                f"noted; {_quoted(span.end.event.kind)} is used.",
                "protocol.reserve_end",
            )
        )
    return findings


def _tapped_again(events: Events) -> list[Finding]:
    """One finding for each tap of a zero that doesn't count.

    Two people who tap the same moment are within what their taps are unsure by; further apart one
    of them was a slip, or the display came back to 0.
    """
    findings = []
    for again in second_zeros(events):
        first = events.of(again.event.kind)[0]
        apart_s = again.moment.t_s - first.moment.t_s
        one_moment = apart_s <= 1.96 * math.hypot(first.moment.sd_s, again.moment.sd_s)
        findings.append(
            Finding(
                "note" if one_moment else "doubt",
                "zero_tapped_again",
                f"{_quoted(again.event.kind)} was tapped again {apart_s:.0f} s later. The first "
                f"counts, at {clock_time(first.moment.t_s)}; the one at "
                f"{clock_time(again.moment.t_s)} does not.",
                f"events {first.event.id} (counts) and {again.event.id}",
            )
        )
    return findings


def _quoted(kind: str | None) -> str:
    """What zero or end goes by, in words."""
    return "a chosen moment" if kind == "moment" else f"\u201c{event_name(kind or '')}\u201d"
