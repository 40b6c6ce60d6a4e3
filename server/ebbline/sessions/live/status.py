"""A session while it is being driven, for those who follow it. Everything derived is provisional:
the result document says it properly, and later.
"""

from __future__ import annotations

import math
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy.orm import Session

from ebbline.exchange import clock_checks
from ebbline.exchange.view import to_session
from ebbline.measure import live
from ebbline.measure.display import as_shown, interval_of
from ebbline.measure.reserve.span import find_zero
from ebbline.measure.time.devices import clocks_of
from ebbline.measure.time.moments import Moment
from ebbline.measure.time.timed_records import StandingRecords, standing_records, timed_events
from ebbline.records.evidence import Event, Reading
from ebbline.records.result import Quantity
from ebbline.sessions.live.snapshot import (
    ALERTS,
    TRAIL_POINTS,
    Alert,
    CountedFrom,
    Live,
    Position,
)
from ebbline.sessions.live.tracks import LiveTrack, LiveTracks
from ebbline.sessions.records.setups import current_setup
from ebbline.store import observations, sessions
from ebbline.store.models import ClockCheckRow, EventRow, ReadingRow

TRAIL_MS = 15 * 60_000

_tracks = LiveTracks()


def status_of(db_session: Session, session_id: UUID) -> Live:
    """How a session stands by what has arrived.

    Raises:
        NotFoundError: no such session.
    """
    at = sessions.find(db_session, session_id).additions
    setup = current_setup(db_session, session_id).setup
    raw_events = observations.in_order_of_arrival(db_session, EventRow, session_id)
    checks = observations.in_order_of_arrival(db_session, ClockCheckRow, session_id)
    records = to_session(
        {
            **clock_checks.with_offsets(setup, checks),
            "events": raw_events,
            "readings": observations.in_order_of_arrival(db_session, ReadingRow, session_id),
        }
    )
    offsets_ms = {device.id: device.clock_offset_ms for device in records.devices}
    clocks, _ = clocks_of(records, {})
    counting, _ = standing_records(records, clocks)
    events = counting.events
    found = find_zero(timed_events(counting, clocks, records.protocol), records.protocol)
    zero = None if found is None else found[1]
    tracks = _tracks.of(db_session, session_id)
    name = max(tracks, key=lambda device: tracks[device].count, default=None)
    track = None if name is None else tracks[name]
    offset_ms = offsets_ms.get(name or "", 0.0)
    return Live(
        cursor=at,
        position=None if track is None else _position(track, offset_ms),
        trail=[] if track is None else _line(track),
        last_event=_last_tap(raw_events, events),
        alerts=[
            Alert(event.kind, _session_ms(event, offsets_ms), event.id)
            for event in events
            if event.kind in ALERTS
        ],
        zero=None if found is None else CountedFrom(found[0], round(found[1].t_s * 1000)),
        past_zero_m=None if track is None or zero is None else _past_m(track, zero, offset_ms),
        energy_past_zero_kwh=None if zero is None else _past_kwh(counting, offsets_ms, zero),
        course=setup.get("course") or {},
        vehicle_label=(setup.get("vehicle") or {}).get("label"),
    )


def _past_m(track: LiveTrack, zero: Moment, offset_ms: float) -> Quantity | None:
    t_ms = track.fixes["t_ms"].astype(np.int64)
    zero_ms = zero.t_s * 1000 - offset_ms
    return live.past_m(t_ms, track.along_m, track.doubt_m, zero_ms, zero.sd_s)


def _past_kwh(
    counting: StandingRecords, offsets_ms: dict[str, float], zero: Moment
) -> Quantity | None:
    shown = [
        (_session_ms(figure, offsets_ms), interval_of(figure))
        for reading in counting.readings
        if reading.quantity == "trip_energy"
        for figure in as_shown(reading)
    ]
    resets = [
        _session_ms(event, offsets_ms) for event in counting.events if event.kind == "trip_reset"
    ]
    until_ms = math.inf
    for reset_ms in (*reversed(resets), None):  # the newest trip that can say it
        used = [row for row in shown if (reset_ms or 0) <= row[0] < until_ms]
        found = live.past_kwh(
            np.array([t_ms for t_ms, _ in used], dtype=np.int64),
            np.array([bounds[0] for _, bounds in used]),
            np.array([bounds[1] for _, bounds in used]),
            zero.t_s * 1000,
            reset_ms,
        )
        if found is not None:
            return found
        until_ms = reset_ms or 0
    return None


def _position(track: LiveTrack, offset_ms: float) -> Position:
    last = {name: float(column[-1]) for name, column in track.fixes.items()}
    return Position(
        lat=last["lat"],
        lon=last["lon"],
        accuracy_m=_known(last["accuracy_m"]),
        speed_mps=_known(last["speed_mps"]),
        t_ms=round(last["t_ms"] + offset_ms),
    )


def _line(track: LiveTrack) -> list[list[float]]:
    """The last quarter of an hour, thinned evenly, its newest point always there."""
    t_ms = track.fixes["t_ms"]
    first = int(np.searchsorted(t_ms, t_ms[-1] - TRAIL_MS))
    count = min(t_ms.size - first, TRAIL_POINTS)
    rows = np.rint(np.linspace(first, t_ms.size - 1, count)).astype(np.int64)
    lats, lons = (track.fixes[name][rows].tolist() for name in ("lat", "lon"))
    return [[lat, lon] for lat, lon in zip(lats, lons, strict=True)]


def _session_ms(record: Event | Reading, offsets_ms: dict[str, float]) -> int:
    return round(record.t_ms + offsets_ms.get(record.device, 0.0))


def _last_tap(raws: list[dict[str, Any]], events: list[Event]) -> dict[str, Any] | None:
    """The newest of the events, the phones' own notes (a gap, a tick of the checklist) left out."""
    by_id = {raw["id"]: raw for raw in raws}
    newest_first = (by_id[event.id] for event in reversed(events))
    return next((raw for raw in newest_first if "log" not in raw), None)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value
