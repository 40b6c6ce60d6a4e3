"""The rule for the end of the reserve: which tap it is, and what a restart makes of it.

The end is the protocol's choice of event, else the first found of ``RESERVE_ENDS``. A car that was
restarted and drove on could still drive: the reserve then runs to the last of its ends, the one to
the first stands beside it, and a finding asks which of them is meant. With no restart on record the
first tap is when it could no longer drive, and a later one is told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from ebbline.measure.naming import clock_time
from ebbline.measure.time.moments import Events, TimedEvent
from ebbline.records.result import Finding
from ebbline.records.setup import Protocol
from ebbline.vocabulary import RESERVE_ENDS, event_name


@dataclass(frozen=True, slots=True)
class Ends:
    """The end that counts; and the first and the last one where the car drove on between them."""

    counts: TimedEvent | None = None
    first: TimedEvent | None = None
    last: TimedEvent | None = None

    @property
    def of_drive(self) -> TimedEvent | None:
        """The end after which the car drove no more, whichever counts."""
        return self.last or self.counts


def find_ends(events: Events, protocol: Protocol, before_s: float) -> tuple[Ends, list[Finding]]:
    """The end of the reserve, before the car was plugged in."""
    kinds = sorted(RESERVE_ENDS, key=lambda kind: kind != protocol.reserve_end)
    for kind in kinds:
        taps = [timed for timed in events.of(kind) if timed.moment.t_s <= before_s]
        if taps:
            return _of_kind(taps, _restarts(events, before_s), protocol)
    return Ends(), []


def _restarts(events: Events, before_s: float) -> list[TimedEvent]:
    """Restarts after which the car drove again."""
    return [
        timed
        for timed in events.of("restart")
        if timed.moment.t_s < before_s and (timed.event.text or "").strip().lower() == "succeeded"
    ]


def _of_kind(
    taps: list[TimedEvent], restarts: list[TimedEvent], protocol: Protocol
) -> tuple[Ends, list[Finding]]:
    """The end among all taps of its kind, at least one.

    Propulsion ends once in a drive, so a second tap is a second end or a slip. A car stands, and
    its contactors open, more than once before it has ended for good: there the last tap counts of
    those before a restart, and of those after it.
    """
    if taps[0].event.kind == "propulsion_off":
        ends = [taps[0], *(later for one, later in pairwise(taps) if not _one_moment(one, later))]
    else:
        ends = [
            timed
            for timed, later in pairwise([*taps, None])
            if timed is not None and (later is None or _between(restarts, timed, later))
        ]
    restarted = _between(restarts, ends[0], ends[-1])
    which = protocol.which_end or ("last" if restarted else "first")
    counts = ends[-1] if which == "last" else ends[0]
    if len(ends) == 1:
        after = [restart for restart in restarts if restart.moment.t_s > counts.moment.t_s]
        return Ends(counts), [_no_end_after(after[-1], counts)] if after else []
    asked = [] if protocol.which_end else [_two_ends(ends, counts, restarted=restarted)]
    return (Ends(counts, ends[0], ends[-1]) if restarted else Ends(counts)), asked


def _one_moment(one: TimedEvent, later: TimedEvent) -> bool:
    """Whether two taps can be of one moment: no further apart than what they are unsure by."""
    apart_s = later.moment.t_s - one.moment.t_s
    return apart_s <= 1.96 * math.hypot(one.moment.sd_s, later.moment.sd_s)


def _between(restarts: list[TimedEvent], one: TimedEvent, later: TimedEvent) -> bool:
    return any(one.moment.t_s < restart.moment.t_s < later.moment.t_s for restart in restarts)


def _two_ends(ends: list[TimedEvent], counts: TimedEvent, *, restarted: bool) -> Finding:
    name, first, last = event_name(counts.event.kind), ends[0], ends[-1]
    why = (
        "the car was restarted and drove on between"
        if restarted
        else "no restart that succeeded is on record between them: one is a slip, or the restart "
        "was not noted"
    )
    return Finding(
        "doubt",
        "two_ends" if restarted else "end_tapped_again",
        f"\u201c{name}\u201d is on record at {clock_time(first.moment.t_s)} and at "
        f"{clock_time(last.moment.t_s)}; {why}. The {'last' if counts is last else 'first'} "
        f"ends the reserve here. Say which of them counts.",
        f"protocol.which_end; events {', '.join(end.event.id for end in ends)}",
    )


def _no_end_after(restart: TimedEvent, counts: TimedEvent) -> Finding:
    return Finding(
        "note",
        "no_end_after_restart",
        f"The car was restarted at {clock_time(restart.moment.t_s)} and drove again, but no "
        f"later \u201c{event_name(counts.event.kind)}\u201d is on record. The reserve ends at the "
        f"one before.",
        f"event {restart.event.id}",
    )
