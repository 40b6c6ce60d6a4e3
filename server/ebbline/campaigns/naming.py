"""What a session is called by, as its set-up has it."""

from __future__ import annotations

from datetime import date

from ebbline.report.days import day_words
from ebbline.store.models import Document


def names_of(setup: Document) -> tuple[str, str, str]:
    """A session's car, title and day, empty where nothing is said."""
    session = setup.get("session") or {}
    car = (setup.get("vehicle") or {}).get("label") or ""
    return car, session.get("title") or "", (session.get("started_at") or "")[:10]


def name_of(setup: Document) -> str:
    """What tells a session apart inside a sentence: its car, else its title, and its day."""
    car, title, day = names_of(setup)
    name = car or title or "a session"
    return f"{name} ({day_words(date.fromisoformat(day))})" if day else name
