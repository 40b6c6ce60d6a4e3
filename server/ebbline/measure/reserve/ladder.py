"""The event ladder: each event with distance, energy, speed, and what was left at it."""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.naming import named
from ebbline.measure.reserve.span import Span
from ebbline.measure.run import PlacedMoments, Run
from ebbline.measure.time.moments import TimedEvent
from ebbline.records import Finding, Quantity, TimelineEntry
from ebbline.vocabulary import event_name


def entries_of(run: Run, span: Span) -> tuple[tuple[TimelineEntry, ...], list[Finding]]:
    """All events in order of their moments."""
    moments = [timed.moment for timed in run.events]
    zero, end = span.zero, span.end
    ends = [zero] if zero else []
    ends += [end.moment] if end else []
    placed = run.distances([*ends, *moments])
    first = len(ends)
    past_kwh = run.energy_between(zero, moments) if zero else [None] * len(moments)
    left_kwh = [
        quantity.not_negative(_reverse(figure))  # after the end nothing is left
        for figure in (run.energy_between(end.moment, moments) if end else [None] * len(moments))
    ]
    entries = []
    for k, (timed, speed) in enumerate(zip(run.events, run.speeds(moments), strict=True)):
        at = first + k
        at_ms = quantity.normal(timed.moment.t_s * 1000, timed.moment.sd_s * 1000)
        if at_ms is None:
            continue
        entries.append(
            TimelineEntry(
                event_id=timed.event.id,
                kind=timed.event.kind,
                t_ms=timed.event.t_ms,
                at_ms=at_ms,
                distance_m=placed.since_start(at) if placed else None,
                past_zero_m=_between(placed, 0, at) if zero else None,
                energy_past_zero_kwh=past_kwh[k],
                left_m=quantity.not_negative(_between(placed, at, first - 1)) if end else None,
                left_kwh=left_kwh[k],
                speed_mps=speed,
            )
        )
    return tuple(entries), _findings(run)


def _between(placed: PlacedMoments | None, start: int, end: int) -> Quantity | None:
    return placed.between(start, end) if placed else None


def _reverse(figure: Quantity | None) -> Quantity | None:
    if figure is None:
        return None
    return Quantity(0.0 - figure.value, 0.0 - figure.high, 0.0 - figure.low)


def _findings(run: Run) -> list[Finding]:
    """Events the track can't place, and events that fell into a gap."""
    if run.track is None or not run.events:
        return []
    track = run.track
    # a note reports nothing of the car: ticks of the checklist, what the phone says of itself
    events = [timed for timed in run.events if timed.event.kind != "note"]
    at_s = np.array([timed.moment.t_s for timed in events])
    placed = track.covers(at_s)
    findings = []
    # where it was charged nobody asks: the track need not reach so far
    plugged = run.events.first("plug_in") or run.events.first("charge_start")
    until_s = plugged.moment.t_s if plugged else np.inf
    lost = [
        timed
        for timed, on_track in zip(events, placed, strict=True)
        if not on_track and timed.moment.t_s < until_s
    ]
    if lost:
        findings.append(
            Finding(
                "doubt",
                "events_off_track",
                "The positions don't reach these events, so they have no distance: "
                f"{', '.join(_named(timed) for timed in lost)}.",
                f"events {', '.join(timed.event.id for timed in lost)}",
            )
        )
    parked = np.zeros(track.gap.size, dtype=bool)
    parked[track.gap] = [known.gap.parked for known in track.unseen.passages]
    bridged = (track.gap & ~parked)[track.leg_at(at_s)] & placed
    bridged &= (at_s > track.t_s[0]) & (at_s < track.t_s[-1])
    findings += [
        Finding(
            "doubt",
            "event_in_gap",
            f"{_named(timed)} falls into a gap in the positions: where in it the car was by then "
            f"is not known, and its interval says how little.",
            f"event {timed.event.id}",
        )
        for timed, in_gap in zip(events, bridged, strict=True)
        if in_gap
    ]
    return findings


def _named(timed: TimedEvent) -> str:
    return named(event_name(timed.event.kind), timed.moment.t_s)
