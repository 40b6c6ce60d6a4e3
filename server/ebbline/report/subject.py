"""One session as every publication takes it: evidence, result and curves, and how to show them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ebbline.engine import engine_id
from ebbline.exchange.session_file import to_session
from ebbline.measure.display import shown_soc_pct
from ebbline.measure.naming import lasting
from ebbline.measure.standing import current_events, current_readings
from ebbline.records.curves import Analysis, Curves
from ebbline.records.evidence import Event, Reading, Session
from ebbline.records.result import Finding, Result, TimelineEntry
from ebbline.report.figures import Units
from ebbline.report.file_name import file_name
from ebbline.report.session_clock import SessionClock, started_at
from ebbline.report.setting_out import USUAL_OUT, SettingOut
from ebbline.report.telling import told
from ebbline.vocabulary import event_words

if TYPE_CHECKING:
    from ebbline.report.look import Drawing, Shape


@dataclass(frozen=True)
class Subject:
    """A session's document with what was found from it. ``input_sha256`` names the document,
    ``out`` is how it is set, ``drawings`` are the pictures drawn of it so far, by name and shape.
    """

    document: dict[str, Any]
    analysis: Analysis
    input_sha256: str
    units: Units
    out: SettingOut = USUAL_OUT
    drawings: dict[tuple[str, Shape], Drawing] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    @property
    def engine(self) -> str:
        """What found it, by name."""
        return engine_id()

    @property
    def result(self) -> Result:
        """The figures."""
        return self.analysis.result

    @property
    def curves(self) -> Curves:
        """The lines behind them."""
        return self.analysis.curves

    def hangs(self, figure: str) -> str:
        """What a figure, by its place in the result, hangs on: a gap in the positions, or ""."""
        for finding in self.result.findings:
            *figures, place = finding.where.split(", ")
            if finding.code == "hangs_on_gap" and figure in figures:
                gap = self.result.distance.gaps[int(re.sub(r"\D", "", place))]
                return f"hangs on a gap of {lasting((gap.to_ms - gap.from_ms) / 1000)}"
        return ""

    @cached_property
    def session(self) -> Session:
        """The evidence as the measuring core took it."""
        return to_session(self.document)

    @cached_property
    def events(self) -> list[Event]:
        """Those that count."""
        return current_events(self.session.events)[0]

    @cached_property
    def readings(self) -> list[Reading]:
        """Those that count."""
        return current_readings(self.session.readings)[0]

    @cached_property
    def raw_events(self) -> dict[str, dict[str, Any]]:
        """The events as they came, by id."""
        return {event["id"]: event for event in self.document.get("events") or ()}

    @property
    def title(self) -> str:
        """What the session is called."""
        return self.session.title or self.session.vehicle.label or "Session without a name"

    @property
    def slug(self) -> str:
        """The title as the beginning of a file's name."""
        return file_name(self.title) or "session"

    def part(self, key: str) -> dict[str, Any]:
        """A part of the set-up, empty when it isn't there."""
        part: dict[str, Any] = self.document.get(key) or {}
        return part

    @cached_property
    def _clock(self) -> SessionClock:
        return SessionClock.of(self.document)

    @property
    def zone_name(self) -> str:
        """Whose clock the times of day are."""
        return self._clock.name

    @property
    def started(self) -> datetime | None:
        """When the session was begun, as stated."""
        return started_at(self.document)

    def local(self, t_ms: float) -> datetime:
        """A moment of the session on its own clock."""
        return self._clock.local(t_ms)

    def clock(self, t_ms: float) -> str:
        """The time of day, rounded to the second."""
        return self._clock.time_of_day(t_ms)

    def told(self, finding: Finding) -> str:
        """A finding in the reader's units, on the session's clock."""
        return told(finding, self._clock, self.units)

    def words(self, entry: TimelineEntry) -> str:
        """An event of the timeline in words."""
        raw = self.raw_events.get(entry.event_id, {})
        # A kind that we don't know is a note to the core and named as it came.
        kind = raw.get("kind", entry.kind) if entry.kind == "note" else entry.kind
        return event_words({**raw, "kind": kind})

    def entry_of(self, kind: str | None) -> TimelineEntry | None:
        """The first event of a kind on the timeline."""
        return next((entry for entry in self.result.timeline if entry.kind == kind), None)

    @property
    def end_of_reserve(self) -> TimelineEntry | None:
        """The event on the timeline that ends the reserve."""
        ended_by = self.result.reserve.end_event_id
        return next((entry for entry in self.result.timeline if entry.event_id == ended_by), None)

    def displayed_soc(self) -> list[tuple[float, float]]:
        """What the display showed of the charge: moments in session time and %, in order."""
        at = {entry.event_id: entry.at_ms.value for entry in self.result.timeline}
        steps = ((at[event.id], shown_soc_pct(event)) for event in self.events if event.id in at)
        offsets = {device.id: device.clock_offset_ms for device in self.session.devices}
        read = (
            (reading.t_ms + offsets.get(reading.device, 0.0), reading.value)
            for reading in self.readings
            if reading.quantity == "soc"
        )
        return sorted((at_ms, soc) for at_ms, soc in (*steps, *read) if soc is not None)
