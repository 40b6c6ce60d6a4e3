"""Moments with their spread: taps and readings as what they report, in session time."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from ebbline.measure.time.clock import DeviceClock
from ebbline.records.evidence import Event, Reading
from ebbline.records.setup import USUAL_TAP_DELAY, Delay, Protocol

# A reading typed from a picture or film has the picture's time; one typed from memory of the
# display is stamped to within a few seconds (common practice, no source).
PICTURE_DELAY = Delay(mean_s=0.0, sd_s=0.5)
TYPED_DELAY = Delay(mean_s=0.0, sd_s=3.0)
_EXACTLY = Delay(mean_s=0.0, sd_s=0.0)
_STAMP_SD_S = 0.001 / math.sqrt(12)  # stamps are whole milliseconds


@dataclass(frozen=True, slots=True)
class Moment:
    """When something was true, session time in seconds since the epoch, with its spread."""

    t_s: float
    sd_s: float


def moment_of_tap(event: Event, clock: DeviceClock, protocol: Protocol) -> Moment:
    """The moment a tap reports: its stamp less the tap's delay."""
    return _moment(event, clock, tap_delay(event, protocol) or USUAL_TAP_DELAY)


def tap_delay(event: Event, protocol: Protocol) -> Delay | None:
    """How late the tap was, as stated; None where the usual must do."""
    return event.tap_delay or protocol.tap_delay


def moment_of_reading(reading: Reading, clock: DeviceClock, protocol: Protocol) -> Moment:
    """The moment a display showed a reading.

    One that was seen to change did so at any moment between two.
    """
    delay = reading_delay(reading, protocol) or USUAL_TAP_DELAY
    if reading.t_to_ms is not None:
        from_s, to_s = (
            clock.session_ms_of_tap(t_ms, reading.page) / 1000
            for t_ms in (reading.t_ms, reading.t_to_ms)
        )
        delay = Delay(mean_s=(from_s - to_s) / 2, sd_s=abs(to_s - from_s) / math.sqrt(12))
    return _moment(reading, clock, delay)


def reading_delay(reading: Reading, protocol: Protocol) -> Delay | None:
    """How late the reading's first stamp is; None where the usual delay of a tap must do.

    On the phone's pad it is stamped by a tap; a picture or a film has its own time.
    """
    if reading.t_to_ms is not None:
        return _EXACTLY
    if reading.photo is not None or reading.source == "film":
        return PICTURE_DELAY
    if protocol.reading_delay is not None:
        return protocol.reading_delay
    return TYPED_DELAY if reading.source == "typed" else protocol.tap_delay


def _moment(record: Event | Reading, clock: DeviceClock, delay: Delay) -> Moment:
    # A stamp that may mean two moments lies between them, as unsure as they are apart.
    between_s = clock.ambiguity_s(record.t_ms, record.page) / 2
    return Moment(
        t_s=clock.session_ms_of_tap(record.t_ms, record.page) / 1000 - delay.mean_s,
        sd_s=max(math.hypot(delay.sd_s, clock.sd_s, between_s), _STAMP_SD_S),
    )


@dataclass(frozen=True, slots=True)
class TimedReading:
    """A reading with the moment its display is thought to have shown it."""

    reading: Reading
    moment: Moment


@dataclass(frozen=True, slots=True)
class TimedEvent:
    """An event that counts, with the moment it reports."""

    event: Event
    moment: Moment


class Events(tuple[TimedEvent, ...]):
    """Every event that stands, in order of moment."""

    __slots__ = ()

    @classmethod
    def in_order(cls, timed: Iterable[TimedEvent]) -> Events:
        """Events sorted by moment; equal moments stay in the order given."""
        return cls(sorted(timed, key=lambda entry: entry.moment.t_s))

    def of(self, kind: str) -> list[TimedEvent]:
        """All events of a kind."""
        return [timed for timed in self if timed.event.kind == kind]

    def first(self, kind: str, after_s: float = -math.inf) -> TimedEvent | None:
        """The first event of a kind at or after a moment."""
        return next((timed for timed in self.of(kind) if timed.moment.t_s >= after_s), None)

    def last(self, kind: str, before_s: float = math.inf) -> TimedEvent | None:
        """The last event of a kind at or before a moment."""
        return next(
            (timed for timed in reversed(self.of(kind)) if timed.moment.t_s <= before_s), None
        )
