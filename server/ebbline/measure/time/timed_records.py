"""The events and readings that stand, and the moments they report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ebbline.measure.display import as_shown
from ebbline.measure.naming import stamped
from ebbline.measure.standing import current_events, current_readings
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.time.moments import (
    Events,
    TimedEvent,
    TimedReading,
    moment_of_reading,
    moment_of_tap,
    reading_delay,
    tap_delay,
)
from ebbline.records.evidence import Event, Reading, Session
from ebbline.records.result import Finding
from ebbline.records.setup import USUAL_TAP_DELAY, Protocol


@dataclass(frozen=True, slots=True)
class StandingRecords:
    """The records that no other one corrects, in order of their stamps."""

    events: list[Event]
    readings: list[Reading]


def standing_records(
    session: Session, clocks: dict[str, DeviceClock]
) -> tuple[StandingRecords, list[Finding]]:
    """Events and readings that stand, with what must be known of their moments."""
    events, findings = current_events(session.events)
    readings, said = current_readings(session.readings)
    findings += said
    said_late = [tap_delay(event, session.protocol) for event in events]
    said_late += [reading_delay(reading, session.protocol) for reading in readings]
    if None in said_late:
        findings.append(_delay_assumed(said_late.count(None)))
    return StandingRecords(events, readings), findings + _ambiguous([*events, *readings], clocks)


def timed_events(
    records: StandingRecords, clocks: dict[str, DeviceClock], protocol: Protocol
) -> Events:
    """Every standing event at the moment it reports, in order of moment."""
    return Events.in_order(
        TimedEvent(event, moment_of_tap(event, clocks[event.device], protocol))
        for event in records.events
    )


def timed_readings(
    records: StandingRecords, clocks: dict[str, DeviceClock], protocol: Protocol
) -> list[TimedReading]:
    """Every figure of the standing readings at the moment its display showed it, in order of
    stamp.
    """
    figures = [figure for reading in records.readings for figure in as_shown(reading)]
    return [
        TimedReading(figure, moment_of_reading(figure, clocks[figure.device], protocol))
        for figure in sorted(figures, key=lambda figure: figure.t_ms)
    ]


def _ambiguous(records: Sequence[Event | Reading], clocks: dict[str, DeviceClock]) -> list[Finding]:
    """One finding for all taps and readings at times their clock went over twice."""
    doubtful = [r for r in records if clocks[r.device].ambiguity_s(r.t_ms, r.page) > 0]
    if not doubtful:
        return []
    return [
        Finding(
            "error",
            "moments_ambiguous",
            f"A clock was set back while recording, and {len(doubtful)} taps or readings bear "
            f"times that it showed twice: {', '.join(stamped(record) for record in doubtful)}. "
            f"They are placed midway, with both times in their intervals; correct them to the "
            f"right one.",
            f"events and readings {', '.join(record.id for record in doubtful)}",
        )
    ]


def _delay_assumed(count: int) -> Finding:
    return Finding(
        "note",
        "tap_delay_assumed",
        f"The plan states no tap delay; {USUAL_TAP_DELAY.mean_s:g} s, give or take "
        f"{2 * USUAL_TAP_DELAY.sd_s:g} s, is assumed for {count} "
        f"{'record' if count == 1 else 'records'}.",
        "protocol.tap_delay_s",
    )
