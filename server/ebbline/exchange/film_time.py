"""Records that count from a film's first frame, placed in session time as a file is read.

Their own figure stays beside them as ``film_ms``, and the device says where its film begins and by
what: ``first_frame``, {"t_ms", "sd_ms", "by"}. The moment is told by claps or flashes that another
device marked too (``film_sync``), else the film is taken to begin with the session.
"""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

import numpy as np

from ebbline.exchange.fields import EARLIEST_MS
from ebbline.exchange.view import to_session
from ebbline.measure.standing import current_events
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.time.moments import Moment, moment_of_tap
from ebbline.records.evidence import Event, Session
from ebbline.records.setup import Device

LONGEST_FILM_MS = 7 * 24 * 3600 * 1000


def set_aside(document: object) -> dict[str, list[dict[str, Any]]]:
    """The events and readings in film time by the film's device, each moved to where any moment
    may lie, so that the document can be checked; whatever is wrong with it is left alone.
    """
    films = [row.get("id") for row in _rows(document, "devices") if row.get("kind") == "film"]
    found: dict[str, list[dict[str, Any]]] = {}
    for row in (*_rows(document, "events"), *_rows(document, "readings")):
        device = row.get("device")
        if isinstance(device, str) and device in films and _counts_from_first_frame(row):
            found.setdefault(device, []).append(row)
            row["film_ms"] = row["t_ms"]
            _move(row, EARLIEST_MS)
    return found


def place(document: dict[str, Any], films: dict[str, list[dict[str, Any]]]) -> None:
    """Move what was set aside to session time, in a document that has been checked."""
    if not films:
        return
    session = to_session(document)
    film_ms = {row["id"]: row["film_ms"] for rows in films.values() for row in rows}
    for raw in (row for row in document["devices"] if row["id"] in films):
        if raw.get("first_frame") is None:
            raw["first_frame"] = _first_frame(document, session, raw, film_ms)
        for row in films[raw["id"]]:
            _move(row, raw["first_frame"]["t_ms"] - EARLIEST_MS)


def _rows(document: object, key: str) -> list[dict[str, Any]]:
    rows = document.get(key) if isinstance(document, dict) else None
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []


def _counts_from_first_frame(row: dict[str, Any]) -> bool:
    stamps = [row.get("t_ms"), row.get("t_to_ms")]
    told = stamps if stamps[1] is not None else stamps[:1]
    return all(type(t_ms) is int and 0 <= t_ms < LONGEST_FILM_MS for t_ms in told)


def _move(row: dict[str, Any], by_ms: int) -> None:
    for key in ("t_ms", "t_to_ms"):
        if type(row.get(key)) is int:
            row[key] += by_ms


def _first_frame(
    document: dict[str, Any], session: Session, film: dict[str, Any], film_ms: dict[str, int]
) -> dict[str, Any]:
    begins = _by_marks(session, film, film_ms)
    if begins is not None:
        return {
            "t_ms": round(1000 * begins.t_s),
            "sd_ms": round(1000 * begins.sd_s),
            "by": "film_sync",
        }
    started_at = document["session"].get("started_at")
    if started_at is None:
        return {"t_ms": EARLIEST_MS, "sd_ms": 0, "by": "nothing"}
    started_s = datetime.fromisoformat(started_at.upper()).timestamp()
    return {"t_ms": round(1000 * started_s), "sd_ms": 0, "by": "started_at"}


def _by_marks(session: Session, film: dict[str, Any], film_ms: dict[str, int]) -> Moment | None:
    """When the film began by the marks that other devices made for it: by the second of film that
    each states, or if none does, by the film's own marks in their order.
    """
    standing, _ = current_events(session.events)
    marks = [event for event in standing if event.kind == "film_sync"]
    own_ms = [film_ms[e.id] for e in marks if e.device == film["id"] and e.id in film_ms]
    others = [event for event in marks if event.id not in film_ms and _names(event, film)]
    seconds = [event.value for event in others]
    if not any(second is not None for second in seconds) and len(own_ms) == len(others):
        seconds = [t_ms / 1000 for t_ms in own_ms]
    clocks = {device.id: DeviceClock(device) for device in session.devices}
    begins = []
    for event, second in zip(others, seconds, strict=True):
        if second is not None:
            clock = clocks.get(event.device, DeviceClock(Device(event.device)))
            moment = moment_of_tap(event, clock, session.protocol)
            begins.append(Moment(moment.t_s - second, moment.sd_s))
    return _mean(begins) if begins else None


def _mean(moments: list[Moment]) -> Moment:
    """Weighted; as unsure as each is, or as they scatter if that is more (JCGM 100:2008, H.5)."""
    first_s = moments[0].t_s
    weights = np.array([1 / moment.sd_s**2 for moment in moments])
    off_s = np.array([moment.t_s - first_s for moment in moments])
    mean_s = float(np.average(off_s, weights=weights))
    scatter = float(np.sum(weights * (off_s - mean_s) ** 2)) / max(len(moments) - 1, 1)
    return Moment(first_s + mean_s, math.sqrt(max(scatter, 1.0) / float(np.sum(weights))))


def _names(event: Event, film: dict[str, Any]) -> bool:
    """Whether a mark is for this film; one that names no camera is for any."""
    camera = (event.text or "").strip().casefold()
    known = {str(film[key]).strip().casefold() for key in ("id", "label") if film.get(key)}
    return not camera or camera in known
