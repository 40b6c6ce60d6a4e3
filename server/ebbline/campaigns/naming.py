"""What a session is called by, as its set-up has it."""

from __future__ import annotations

from ebbline.store.models import Document


def names_of(setup: Document) -> tuple[str, str, str]:
    """A session's car, title and day, empty where nothing is said."""
    session = setup.get("session") or {}
    car = (setup.get("vehicle") or {}).get("label") or ""
    return car, session.get("title") or "", (session.get("started_at") or "")[:10]
