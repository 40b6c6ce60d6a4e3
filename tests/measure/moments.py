"""Taps and readings at their moments, for tests of what is made of them."""

from __future__ import annotations

from measure.drive import START_S

from ebbline.measure.time.moments import Events, Moment, TimedEvent, TimedReading
from ebbline.records.evidence import Event, Reading

SD_S = 0.4


def at(t_s: float, sd_s: float = SD_S) -> Moment:
    """So many seconds after ``START_S``."""
    return Moment(START_S + t_s, sd_s)


def taps(*each: tuple[str, float] | tuple[str, float, float | str]) -> Events:
    """Taps by kind, seconds since ``START_S`` and value or text."""
    timed = []
    for k, (kind, at_s, *rest) in enumerate(each):
        value = next((part for part in rest if isinstance(part, float)), None)
        text = next((part for part in rest if isinstance(part, str)), None)
        stamp = round(1000 * (START_S + at_s))
        event = Event(f"{kind}-{k}", "phone", stamp, kind, value=value, text=text)
        timed.append(TimedEvent(event, at(at_s)))
    return Events.in_order(timed)


def noted(
    quantity: str, at_s: float, value: float, unit: str, resolution: float = 0.1
) -> TimedReading:
    """A reading of a display that rounds to the nearest step."""
    name, stamp = f"{quantity}-{at_s:g}", round(1000 * (START_S + at_s))
    return TimedReading(Reading(name, "phone", stamp, quantity, value, unit, resolution), at(at_s))
