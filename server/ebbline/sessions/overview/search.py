"""Which sessions somebody asks for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from ebbline.vocabulary import EVENTS, event_name


@dataclass(frozen=True, slots=True)
class Search:
    """What a session must have to be listed; None asks for nothing.

    ``text``: words that must all be found, in any order and case, in the set-up or in what was
    written beside an event. ``vehicle``, ``course``: part of its label. ``first_day``,
    ``last_day``: of its start by its own clock, both included. ``outcome``: as in the list.
    ``archived``: ``no``, ``yes`` or ``all``.
    """

    text: str | None = None
    vehicle: str | None = None
    course: str | None = None
    first_day: date | None = None
    last_day: date | None = None
    outcome: str | None = None
    archived: str = "no"

    def matches_archived(self, archived: bool) -> bool:
        """Whether sessions that are, or are not, put away are asked for."""
        return self.archived == "all" or (self.archived == "yes") == archived

    def matches_setup(self, setup: dict[str, Any]) -> bool:
        """Whether a set-up is one of those asked for, its text apart."""
        return (
            _within(self.vehicle, (setup.get("vehicle") or {}).get("label"))
            and _within(self.course, (setup.get("course") or {}).get("label"))
            and self._matches_day(setup["session"].get("started_at"))
        )

    def matches_text(self, setup: dict[str, Any], events: Iterable[dict[str, Any]]) -> bool:
        """Whether every word asked for is somewhere in a session."""
        words = (self.text or "").casefold().split()
        if not words:
            return True
        written = [*_texts(setup)]
        for event in events:
            kind = event["kind"]
            written += [text for text in (event.get("text"),) if text]
            written += [kind.replace("_", " "), event_name(kind)] if kind in EVENTS else [kind]
        everything = "\n".join(written).casefold()
        return all(word in everything for word in words)

    def _matches_day(self, started_at: str | None) -> bool:
        if self.first_day is None and self.last_day is None:
            return True
        if started_at is None:
            return False
        day = date.fromisoformat(started_at[:10])
        return (self.first_day or day) <= day <= (self.last_day or day)


def _within(part: str | None, label: str | None) -> bool:
    return not part or part.casefold() in (label or "").casefold()


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
