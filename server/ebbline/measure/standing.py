"""Which records count: those that no other one corrects. Originals stay in the evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from ebbline.measure.naming import stamped
from ebbline.records import Event, Finding, Reading

_Record = TypeVar("_Record", Event, Reading)


def current_events(events: Sequence[Event]) -> tuple[list[Event], list[Finding]]:
    """Events that count, in order of their stamps; withdrawn ones are gone."""
    current, findings = _current(events)
    return [event for event in current if not event.withdraws], findings


def current_readings(readings: Sequence[Reading]) -> tuple[list[Reading], list[Finding]]:
    """Readings that count, in order of their stamps; one without a value withdraws."""
    current, findings = _current(readings)
    return [reading for reading in current if reading.value is not None], findings


def _current(records: Sequence[_Record]) -> tuple[list[_Record], list[Finding]]:
    """Follow corrections to their end. Of two that correct the same record the later wins."""
    latest: dict[str, _Record] = {}
    findings = []
    for record in records:
        if record.corrects is None:
            continue
        rival = latest.get(record.corrects)
        if rival is not None:
            findings.append(
                Finding(
                    "doubt",
                    "corrected_twice",
                    f"{stamped(rival)} and {stamped(record)} correct the same record; the later "
                    f"one counts.",
                    f"record {record.corrects}, corrected by {rival.id} and by {record.id}",
                )
            )
        latest[record.corrects] = record
    replaced = set(latest)
    losers = {
        record.id
        for record in records
        if record.corrects is not None and latest[record.corrects] is not record
    }
    kept = [r for r in records if r.id not in replaced and r.id not in losers]
    return sorted(kept, key=lambda record: record.t_ms), findings
