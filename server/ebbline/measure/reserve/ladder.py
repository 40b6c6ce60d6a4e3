"""The event ladder: each event with distance, energy, speed, and what was left at it."""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.naming import named
from ebbline.measure.reserve.span import Span
from ebbline.measure.run import PlacedMoments, Run
from ebbline.measure.time.moments import TimedEvent
from ebbline.measure.track.track import Track
from ebbline.records.arrays import FloatArray
from ebbline.records.result import Finding, Quantity, TimelineEntry
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
                warning_class=timed.event.warning_class,
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
    """Events that nothing can place, and events that fell into a gap."""
    # a note reports nothing of the car: ticks of the checklist, what the phone says of itself
    events = [timed for timed in run.events if timed.event.kind != "note"]
    if run.motion is None or not run.motion.tells_distance or not events:
        return []
    at_s = np.array([timed.moment.t_s for timed in events])
    return _off_track(run, events, at_s) + _in_gaps(run.track, events, at_s)


def _off_track(run: Run, events: list[TimedEvent], at_s: FloatArray) -> list[Finding]:
    assert run.motion is not None
    # what happens on the charger needs no place, so the track need not reach it
    plugged = run.events.first("plug_in") or run.events.first("charge_start")
    until_s = plugged.moment.t_s if plugged else np.inf
    lost = [
        timed
        for timed, placed in zip(events, run.motion.covers(at_s), strict=True)
        if not placed and timed.moment.t_s < until_s
    ]
    if not lost:
        return []
    what = "positions don't" if run.motion.beyond is None else "evidence of the way doesn't"
    return [
        Finding(
            "doubt",
            "events_off_track",
            f"The {what} reach these events, so they have no distance: "
            f"{', '.join(_named(timed) for timed in lost)}.",
            f"events {', '.join(timed.event.id for timed in lost)}",
        )
    ]


def _in_gaps(track: Track | None, events: list[TimedEvent], at_s: FloatArray) -> list[Finding]:
    if track is None:
        return []
    parked = np.zeros(track.gap.size, dtype=bool)
    parked[track.gap] = [known.gap.parked for known in track.unseen.passages]
    bridged = (track.gap & ~parked)[track.leg_at(at_s)] & track.covers(at_s)
    bridged &= (at_s > track.t_s[0]) & (at_s < track.t_s[-1])
    return [
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


def _named(timed: TimedEvent) -> str:
    return named(event_name(timed.event.kind), timed.moment.t_s)
