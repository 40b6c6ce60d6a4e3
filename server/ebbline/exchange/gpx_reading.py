"""GPX 1.1 tracks that others recorded: each becomes the fixes of a device of its own."""

from __future__ import annotations

import itertools
import re
import uuid
import zoneinfo
from collections import Counter
from datetime import UTC, datetime
from typing import Any
from xml.etree.ElementTree import Element

import gpxpy.gpx

from ebbline.errors import InputError
from ebbline.exchange.columns import NUMBER_COLUMNS, check_breadcrumbs
from ebbline.exchange.document import MAX_RECORDS, check_event
from ebbline.exchange.gpx import NAMESPACE
from ebbline.exchange.gpx_walk import Walk, walk
from ebbline.exchange.json_text import shown
from ebbline.exchange.recording import Origin, Recording, refuse_size
from ebbline.measure.units import factor

_SPEED_UNITS = {"mps": "m/s", "m_s": "m/s", "kmh": "km/h", "kph": "km/h", "mph": "mph",
                "m/s": "m/s", "km/h": "km/h"}  # fmt: skip
_OURS = {"heading_deg": "heading_deg", "accuracy_m": "accuracy_m"}
_IDS = uuid.UUID("0f9f3f2e-5c0a-4f0e-9a53-1e0f6b8f2a77")  # any constant of our own


def read_gpx(data: bytes, origin: Origin, zone: str | None = None) -> Recording:
    """Read tracks and waypoints; routes are plans and no evidence.

    Args:
        data: the file.
        origin: its name and hash.
        zone: an IANA zone for times that say none; without it such times are refused.

    Raises:
        InputError: names the track, the segment and the point, or the waypoint.
        TooLargeError: more bytes than we take.
    """
    refuse_size(data)
    met = walk(data)
    gpx = _parse(data, met)
    known_zone = _zone(zone)
    recording = Recording(written_from=gpx.keywords)
    said: Counter[str] = Counter()
    for number, track in enumerate(gpx.tracks):
        device = _device(origin, track.name, number, recording)
        recording.breadcrumbs.extend(_entries(track, number, device, origin, known_zone, said))
    for index, entry in enumerate(recording.breadcrumbs):
        check_breadcrumbs(entry, f"breadcrumbs[{index}]")
    if len(gpx.waypoints) > MAX_RECORDS:
        raise InputError("waypoints", f"are {len(gpx.waypoints):,}; {MAX_RECORDS:,} are the most")
    device = recording.breadcrumbs[0]["device"] if recording.breadcrumbs else origin.device_id()
    for index, waypoint in enumerate(gpx.waypoints):
        event = _event(waypoint, index, device, origin, known_zone)
        check_event(event, f"waypoints[{index}]")
        recording.events.append(event)
    if not recording.breadcrumbs and not recording.events:
        raise InputError("$", "holds no track point and no waypoint")
    recording.notes.extend(f"{said_of} ({count} points)" for said_of, count in said.items())
    if gpx.routes:
        recording.notes.append(f"{len(gpx.routes)} routes are plans, not evidence; not taken.")
    return recording


def _parse(data: bytes, met: Walk) -> gpxpy.gpx.GPX:
    try:
        gpx = gpxpy.parse(data.decode("utf-8-sig"), version="1.1")
    except (gpxpy.gpx.GPXException, ValueError, TypeError, LookupError) as error:
        raise InputError("$", f"can't be read as GPX 1.1: {error}") from None
    points = sum(len(segment.points) for track in gpx.tracks for segment in track.segments)
    if (points, len(gpx.waypoints)) != (met.counts["trkpt"], met.counts["wpt"]):
        raise InputError(
            "$",
            f"has {met.counts['trkpt']} track points and {met.counts['wpt']} waypoints, of which "
            f"{points} and {len(gpx.waypoints)} can be read: elements of GPX must carry no prefix "
            "and stand where its schema has them",
        )
    return gpx


def _device(origin: Origin, name: str | None, number: int, recording: Recording) -> str:
    """Unique within the file; the file's hash makes it unique in a session."""
    taken = {entry["device"] for entry in recording.breadcrumbs}
    wanted = origin.device_id(name)
    return wanted if wanted not in taken else f"{wanted[:90]} #{number + 1}"


def _entries(
    track: gpxpy.gpx.GPXTrack,
    number: int,
    device: str,
    origin: Origin,
    zone: zoneinfo.ZoneInfo | None,
    said: Counter[str],
) -> list[dict[str, Any]]:
    """An entry for each segment, and a further one wherever time runs backwards.

    Segments that only stand in another order than they were recorded are put in order of time, so
    that nobody takes the order for a clock set back.
    """
    segments = [
        (part, _rows(segment, f"tracks[{number}].segments[{part}]", zone, said))
        for part, segment in enumerate(track.segments)
    ]
    segments = [(part, rows) for part, rows in segments if rows]
    in_time = sorted(segments, key=lambda each: each[1][0]["t_ms"])
    if in_time != segments and all(
        earlier[-1]["t_ms"] <= later[0]["t_ms"]
        for (_, earlier), (_, later) in itertools.pairwise(in_time)
    ):
        said["Segments stand in another order than their times; put in order of time."] += sum(
            len(rows) for _, rows in segments
        )
        segments = in_time
    entries: list[dict[str, Any]] = []
    seq = 0
    for part, rows in segments:
        starts = [0, *(k for k in range(1, len(rows)) if rows[k]["t_ms"] < rows[k - 1]["t_ms"])]
        if len(starts) > 1:
            said["Times run backwards; a new piece begins there."] += len(starts) - 1
        for start, end in itertools.pairwise([*starts, len(rows)]):
            entries.append(_entry(rows[start:end], seq, device, origin, number, part))
            seq += end - start
    return entries


def _rows(
    segment: gpxpy.gpx.GPXTrackSegment,
    where: str,
    zone: zoneinfo.ZoneInfo | None,
    said: Counter[str],
) -> list[dict[str, Any]]:
    return [
        _fix(point, f"{where}.points[{index}]", zone, said)
        for index, point in enumerate(segment.points)
    ]


def _entry(
    rows: list[dict[str, Any]], seq: int, device: str, origin: Origin, track: int, segment: int
) -> dict[str, Any]:
    names = ("lat", "lon", "accuracy_m", "speed_mps", "heading_deg", "altitude_m", "hdop")
    known = [name for name in names if any(name in row for row in rows)]
    return {
        "device": device,
        "source": {
            "name": origin.name, "sha256": origin.sha256, "track": track, "segment": segment,
        },
        "seq": list(range(seq, seq + len(rows))),
        "t_ms": [row["t_ms"] for row in rows],
        **{name: [row.get(name) for row in rows] for name in known},
    }  # fmt: skip


def _fix(
    point: gpxpy.gpx.GPXTrackPoint,
    where: str,
    zone: zoneinfo.ZoneInfo | None,
    said: Counter[str],
) -> dict[str, Any]:
    row = {"t_ms": _t_ms(point.time, where, zone), "lat": point.latitude, "lon": point.longitude}
    if point.elevation is not None:
        row["altitude_m"] = point.elevation
    if point.horizontal_dilution is not None:
        row["hdop"] = point.horizontal_dilution
        said["hdop has no unit: kept as it is, no accuracy is made of it."] += 1
    for extension in point.extensions:
        for element in extension.iter():
            if len(element) == 0:
                _take_extension(element, row, where, said)
    return row


def _take_extension(element: Element, row: dict[str, Any], where: str, said: Counter[str]) -> None:
    """A figure from an extension, where its name or an attribute says its unit."""
    space, _, name = element.tag.rpartition("}")
    scale = 1.0
    unit = element.get("unit") or element.get("units")
    speed = re.fullmatch(r"speed(?:_([a-z_]+))?", name, re.IGNORECASE)
    if space == "{" + NAMESPACE and name in _OURS:
        column = _OURS[name]
    elif speed and (speed[1] or unit or "").lower() in _SPEED_UNITS:
        column = "speed_mps"
        scale = factor(_SPEED_UNITS[(speed[1] or unit or "").lower()], "m/s")
    else:
        why = "says no unit" if speed or "accuracy" in name.lower() else "is nothing known here"
        said[f"Extension {shown(name)} {why}; not taken."] += 1
        return
    text = (element.text or "").strip()
    try:
        value = float(text) * scale
    except ValueError:
        raise InputError(f"{where}.{name}", f"is {shown(text)}; a number is needed") from None
    allowed = NUMBER_COLUMNS[column]
    if not allowed.low <= value <= allowed.high:
        raise InputError(f"{where}.{name}", f"is {shown(text)}, out of range")
    row[column] = value


def _event(
    waypoint: gpxpy.gpx.GPXWaypoint,
    index: int,
    device: str,
    origin: Origin,
    zone: zoneinfo.ZoneInfo | None,
) -> dict[str, Any]:
    texts = (waypoint.name, waypoint.description, waypoint.comment)
    return {
        "id": str(uuid.uuid5(_IDS, f"{origin.sha256} {device} {index}")),
        "device": device,
        "t_ms": _t_ms(waypoint.time, f"waypoints[{index}]", zone),
        "kind": "note",
        "text": ": ".join(dict.fromkeys(text for text in texts if text)),
        "lat": waypoint.latitude,
        "lon": waypoint.longitude,
        "source": {"name": origin.name, "sha256": origin.sha256},
    }


def _t_ms(time: datetime | None, where: str, zone: zoneinfo.ZoneInfo | None) -> int:
    if time is None:
        raise InputError(
            f"{where}.time", "is missing or no time; without it a place is no evidence"
        )
    if time.tzinfo is None:
        if zone is None:
            problem = f"is {time.isoformat()}, without a zone; state which zone it is in"
            raise InputError(f"{where}.time", problem)
        early, late = (time.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
        if early.utcoffset() != late.utcoffset():
            problem = f"is {time.isoformat()}, which happens twice or never in {zone.key}"
            raise InputError(f"{where}.time", problem)
        time = early
    since = time.astimezone(UTC) - datetime(1970, 1, 1, tzinfo=UTC)
    return round(since.total_seconds() * 1000)


def _zone(name: str | None) -> zoneinfo.ZoneInfo | None:
    if name is None:
        return None
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError("zone", f"is {shown(name)}, not a known time zone") from None
