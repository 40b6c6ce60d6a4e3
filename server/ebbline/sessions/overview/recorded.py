"""What a line of the list tells of the record: names, start, counts, and all that can be found by
its words. Kept in the database, and brought up to date before anybody reads it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.sessions.results.line import found_of, published_part
from ebbline.store import breadcrumbs, observations, overviews, publications, setups
from ebbline.store.models import Document, EventRow, ReadingRow
from ebbline.store.overviews import Behind
from ebbline.vocabulary import EVENTS, event_name

AT_ONCE = 200  # sessions whose events fit into memory and whose change others can wait for


def bring_up_to_date(db_session: Session) -> None:
    """See to it that every session's line tells what was recorded last. Nothing is analysed."""
    behind = overviews.behind_the_record(db_session)
    for start in range(0, len(behind), AT_ONCE):
        _renew(db_session, behind[start : start + AT_ONCE])


def _renew(db_session: Session, behind: Sequence[Behind]) -> None:
    # What is added from here on makes these lines old again: additions were read before.
    ids = [one.session_id for one in behind]
    current = setups.current_of(db_session, ids)
    events = observations.standing_counts(db_session, EventRow, ids)
    readings = observations.standing_counts(db_session, ReadingRow, ids)
    fixes = breadcrumbs.counts(db_session, ids)
    written: dict[UUID, set[str]] = {}
    for session_id, event in observations.events_of(db_session, ids):
        written.setdefault(session_id, set()).update(_words_of_event(event))
    without_line = [one.session_id for one in behind if one.new]
    kept = overviews.kept_results(db_session, without_line)
    published = publications.last_of(db_session, without_line)
    new, changed = [], []
    for one in behind:
        setup = current.get(one.session_id)
        if setup is None:
            continue
        row = {
            "session_id": one.session_id,
            "additions": one.additions,
            "updated_ms": one.updated_ms,
            "archived": one.archived,
            **_of_setup(setup.document, written.get(one.session_id, ())),
            "event_count": events.get(one.session_id, 0),
            "reading_count": readings.get(one.session_id, 0),
            "fix_count": fixes.get(one.session_id, 0),
        }
        if one.new:
            found = found_of(kept.get(one.session_id))
            of_publication = published_part(published.get(one.session_id), found.get("figures"))
            new.append({**dict.fromkeys(overviews.FOUND), **row, **found, **of_publication})
        else:
            changed.append(row)
    overviews.keep_recorded(db_session, new, changed)


def _of_setup(setup: Document, written: Iterable[str]) -> dict[str, Any]:
    session = setup["session"]
    title = _text(session.get("title"))
    vehicle = _text((setup.get("vehicle") or {}).get("label"))
    course = _text((setup.get("course") or {}).get("label"))
    started_at = session.get("started_at")
    return {
        "title": title,
        "started_at": started_at,
        "started_ms": _milliseconds(started_at) if started_at else None,
        "started_day": started_at[:10] if started_at else None,
        "vehicle_label": vehicle,
        "course_label": course,
        "name_key": _key(title or vehicle),
        "vehicle_key": _key(vehicle),
        "course_key": _key(course),
        "words": _text("\n".join([*_texts(setup), *written]).casefold()),
    }


def _milliseconds(stamp: str) -> int:
    return round(datetime.fromisoformat(stamp.upper()).timestamp() * 1000)


def _key(label: str | None) -> str | None:
    return label.casefold() if label else None


def _text(text: str | None) -> str | None:
    """As a database's text may be: PostgreSQL's holds no NUL, and nobody looks for one."""
    return text.replace("\x00", "\ufffd") if text else text


def _words_of_event(event: Document) -> Iterable[str]:
    kind = event["kind"]
    yield kind.replace("_", " ")
    if kind in EVENTS:
        yield event_name(kind)
    if event.get("text"):
        yield event["text"]


def _texts(value: object) -> Iterable[str]:
    """Every text in a JSON value."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from _texts(part)
    elif isinstance(value, list):
        for part in value:
            yield from _texts(part)
