"""All sessions as one table, for spreadsheets and statistics."""

from __future__ import annotations

import csv
import io
from typing import Any

from sqlalchemy.orm import Session

from ebbline.sessions.overview.listing import LATEST_FIRST, list_sessions
from ebbline.sessions.overview.search import Order, Search
from ebbline.sessions.results import columns
from ebbline.store import known, setups

AT_ONCE = 1000
PLAIN = ("id", "title", "started_at", "vehicle_label", "course_label", "outcome")
OF_LINE = ("worked_out", "failure", "engine", "event_count", "reading_count", "fix_count",
           "published_at", "published_differs", "archived")  # fmt: skip


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
            document = {**row.document, "events": ticks.get(session_id)}
            said[session_id] = columns.facts(document)
    facts = sorted({name for of_one in said.values() for name in of_one}, key=columns.place)
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([*PLAIN, *columns.figure_names(), *columns.OF_FIGURES, *OF_LINE, *facts])
    for line in lines:
        of_one = said.get(line.id, {})
        writer.writerow(
            [
                *(getattr(line, name) for name in PLAIN),
                *columns.figure_cells(line.figures),
                *((line.figures or {}).get(name) for name in columns.OF_FIGURES),
                *(getattr(line, name) for name in OF_LINE),
                *(of_one.get(name) for name in facts),
            ]
        )
    return text.getvalue()
