"""The clock that a session's times of day are told by, on paper, film and terminal alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import Any
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class SessionClock:
    """The zone of a session and its name in the desk's words."""

    zone: tzinfo
    name: str

    @classmethod
    def of(cls, document: dict[str, Any]) -> SessionClock:
        """The session's own: its zone, else the offset it started with, else UTC."""
        stated = document.get("session") or {}
        named: str | None = stated.get("time_zone")
        if named:
            return cls(ZoneInfo(named), named)
        started = started_at(document)
        offset = started.utcoffset() if started else None
        zone = timezone(offset) if offset else UTC
        return cls(zone, str(zone))

    def local(self, t_ms: float) -> datetime:
        """A moment of the session on its own clock."""
        epoch = datetime(1970, 1, 1, tzinfo=UTC)
        return (epoch + timedelta(milliseconds=t_ms)).astimezone(self.zone)

    def time_of_day(self, t_ms: float) -> str:
        """The time of day, rounded to the second as the desk rounds it."""
        return self.local(math.floor(t_ms / 1000 + 0.5) * 1000).strftime("%H:%M:%S")


def started_at(document: dict[str, Any]) -> datetime | None:
    """When the session was begun, as stated."""
    text = (document.get("session") or {}).get("started_at")
    return datetime.fromisoformat(text) if text else None
