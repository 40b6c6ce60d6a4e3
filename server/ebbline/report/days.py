"""How a day is written for readers."""

from __future__ import annotations

from datetime import date


def day_words(day: date) -> str:
    """A day, or the day of a moment: '4 September 2026'."""
    return f"{day.day} {day:%B %Y}"
