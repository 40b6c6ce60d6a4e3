"""GPX 1.1 of a session: one track per device, events as waypoints.

Speed, heading and accuracy have no element in GPX 1.1 (gpx.xsd; speed was dropped after 1.0), so
they travel as extensions in a namespace of ours.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from xml.etree.ElementTree import Element

import gpxpy.gpx
import numpy as np

from ebbline.exchange.recording import written_from
from ebbline.exchange.view import to_session
from ebbline.measure.standing import current_events
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.time.devices import clocks_of, merged
from ebbline.records.arrays import IntArray
from ebbline.records.evidence import Breadcrumbs, Event
from ebbline.vocabulary import event_words

NAMESPACE = "urn:ebbline:gpx:1"
SPLIT_S = 10.0  # a longer gap starts a new segment

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    """The fixes of one device in order of seq; ``t_ms`` is session time."""

    crumbs: Breadcrumbs
    t_ms: IntArray
    by_time: IntArray  # rows in order of t_ms


def track_gpx(document: dict[str, Any]) -> str:
    """The whole track as GPX 1.1.

    Times are session time in UTC, clocks put right as the analysis does. An event stands where
    the track was at its tap as recorded; one that no fix surrounds has no place, and the metadata
    say how many those are.
    """
    session = to_session(document)
    crumbs = merged(session.breadcrumbs)
    clocks, _ = clocks_of(session, crumbs)
    paths = [_path(own, clocks[device]) for device, own in crumbs.items()]
    events, _ = current_events(session.events)
    gpx = gpxpy.gpx.GPX()
    gpx.version = "1.1"
    gpx.creator = "Ebbline"
    gpx.name = _xml(session.title)
    gpx.keywords = written_from(session.id)
    gpx.nsmap["ebbline"] = NAMESPACE
    gpx.tracks = [_track(path) for path in paths]
    placed = [_waypoint(event, clocks[event.device], paths) for event in events]
    gpx.waypoints = [waypoint for waypoint in placed if waypoint is not None]
    missing = len(events) - len(gpx.waypoints)
    if missing:
        gpx.description = f"{missing} of {len(events)} events have no place on the track."
    text: str = gpx.to_xml(version="1.1")
    return text


def _path(crumbs: Breadcrumbs, clock: DeviceClock) -> _Path:
    t_ms = np.rint(clock.session_ms(crumbs.t_ms, crumbs.seq)).astype(np.int64)
    return _Path(crumbs, t_ms, np.argsort(t_ms, kind="stable"))


def _track(path: _Path) -> gpxpy.gpx.GPXTrack:
    track = gpxpy.gpx.GPXTrack(name=_xml(path.crumbs.device))
    step_s = np.diff(path.t_ms) / 1000
    starts = np.flatnonzero((step_s > SPLIT_S) | (step_s < 0)) + 1
    for rows in np.split(np.arange(path.t_ms.size), starts):
        segment = gpxpy.gpx.GPXTrackSegment([_point(path, int(row)) for row in rows])
        track.segments.append(segment)
    return track


def _point(path: _Path, row: int) -> gpxpy.gpx.GPXTrackPoint:
    crumbs = path.crumbs
    altitude_m = float(crumbs.altitude_m[row])
    point = gpxpy.gpx.GPXTrackPoint(
        latitude=float(crumbs.lat[row]),
        longitude=_longitude(float(crumbs.lon[row])),
        elevation=altitude_m if math.isfinite(altitude_m) else None,
        time=_utc(int(path.t_ms[row])),
    )
    for name in ("speed_mps", "heading_deg", "accuracy_m"):
        value = float(getattr(crumbs, name)[row])
        if math.isfinite(value):
            element = Element(f"{{{NAMESPACE}}}{name}")
            element.text = repr(value)
            point.extensions.append(element)
    return point


def _waypoint(
    event: Event, clock: DeviceClock, paths: Sequence[_Path]
) -> gpxpy.gpx.GPXWaypoint | None:
    t_ms = round(clock.session_ms_of_tap(event.t_ms, event.page))
    # Its own device's track if there is one: whatever their clocks say, the two agree.
    for path in sorted(
        paths, key=lambda path: (path.crumbs.device != event.device, -path.t_ms.size)
    ):
        place = _place_at(path, t_ms)
        if place is not None:
            return gpxpy.gpx.GPXWaypoint(
                latitude=place[0],
                longitude=_longitude(place[1]),
                time=_utc(t_ms),
                name=_xml(event_words(_told(event))),
                description=_xml(event.text),
                type=_xml(event.kind),
            )
    return None


def _told(event: Event) -> dict[str, Any]:
    """Without its text, which is the waypoint's description."""
    return {"kind": event.kind, "value": event.value, "unit": event.unit}


def _place_at(path: _Path, t_ms: int) -> tuple[float, float] | None:
    """Between the two fixes around a moment, never beyond the ends."""
    times = path.t_ms[path.by_time]
    after = int(np.searchsorted(times, t_ms))
    if after == times.size or (after == 0 and times[0] != t_ms):
        return None
    before = max(after - 1, 0)
    span_ms = int(times[after] - times[before])
    share = (t_ms - int(times[before])) / span_ms if span_ms else 0.0
    lat, lon = path.crumbs.lat[path.by_time], path.crumbs.lon[path.by_time]
    turn = (lon[after] - lon[before] + 180) % 360 - 180  # the short way across the date line
    return (
        float(lat[before] + share * (lat[after] - lat[before])),
        float(lon[before] + share * turn),
    )


def _longitude(degrees: float) -> float:
    """GPX knows -180 but not 180."""
    return degrees if -180 <= degrees < 180 else (degrees + 180) % 360 - 180


def _utc(t_ms: int) -> datetime:
    return _EPOCH + timedelta(milliseconds=t_ms)


def _xml(text: str | None) -> str | None:
    """Text without what XML 1.0 can't carry, such as control characters."""
    return None if text is None else _NOT_XML.sub("\ufffd", text)
