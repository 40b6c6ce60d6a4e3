"""All sessions as one table, for spreadsheets and statistics."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

from sqlalchemy.orm import Session

from ebbline.exchange.facts import facts_of
from ebbline.sessions.overview.listing import LATEST_FIRST, Overview, list_sessions
from ebbline.sessions.overview.search import Order, Search
from ebbline.sessions.results.headlines import HEADLINES
from ebbline.store import known, setups

AT_ONCE = 1000
PLAIN = ("id", "title", "started_at", "vehicle_label", "course_label", "outcome")
OF_FIGURES = ("zero_basis", "reserve_end", "distance_basis", "doubts", "errors")
OF_LINE = ("worked_out", "failure", "engine", "event_count", "reading_count", "fix_count",
           "published_at", "published_differs", "archived")  # fmt: skip
SECTIONS = ("vehicle", "conditions", "protocol", "course", "session")  # of the set-up


def sessions_csv(db_session: Session, search: Search, order: Order = LATEST_FIRST) -> str:
    """The sessions asked for as CSV (RFC 4180), a line each in SI: names, every headline figure
    with both ends of its interval, where it came from, then all that the set-up says, and the
    checklist's ticks where it says nothing, a column for each thing that any session says.
    """
    lines = list_sessions(db_session, search, order).sessions
    said: dict[Any, dict[str, Any]] = {}
    for start in range(0, len(lines), AT_ONCE):
        ids = [line.id for line in lines[start : start + AT_ONCE]]
        ticks = known.checklist_notes(db_session, ids)
        for session_id, row in setups.current_of(db_session, ids).items():
            ticked = facts_of({**row.document, "events": ticks.get(session_id)})
            said[session_id] = dict(_facts(row.document)) | ticked
    facts = sorted({name for of_one in said.values() for name in of_one}, key=_place)
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([*PLAIN, *_figure_names(), *OF_FIGURES, *OF_LINE, *facts])
    for line in lines:
        of_one = said.get(line.id, {})
        writer.writerow(
            [
                *(getattr(line, name) for name in PLAIN),
                *_figures(line),
                *((line.figures or {}).get(name) for name in OF_FIGURES),
                *(getattr(line, name) for name in OF_LINE),
                *(of_one.get(name) for name in facts),
            ]
        )
    return text.getvalue()


def _figure_names() -> Iterator[str]:
    for headline in HEADLINES:
        yield from (headline.key, f"{headline.key}_low", f"{headline.key}_high")


def _figures(line: Overview) -> Iterator[float | None]:
    for headline in HEADLINES:
        quantity = (line.figures or {}).get(headline.key) or {}
        yield from (quantity.get(part) for part in ("value", "low", "high"))


def _facts(setup: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """What a set-up says, by names such as vehicle.pack.usable_kwh."""
    for section in SECTIONS:
        for name, value in _leaves(setup.get(section), section):
            if name not in ("session.id", "session.title", "session.started_at",
                            "vehicle.label", "course.label"):  # fmt: skip
                yield name, value


def _leaves(value: object, name: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _leaves(part, f"{name}.{key}")
    elif isinstance(value, list):
        for number, part in enumerate(value, start=1):
            yield from _leaves(part, f"{name}.{number}")
    elif value is not None:
        yield name, value


def _place(name: str) -> tuple[int, str]:
    return SECTIONS.index(name.partition(".")[0]), name
