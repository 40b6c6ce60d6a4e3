"""Which sessions somebody asks for, and in which order; the database does both."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, get_args
from uuid import UUID

from sqlalchemy import ColumnElement
from sqlalchemy.orm import InstrumentedAttribute

from ebbline.store.models import OverviewRow

SortKey = Literal[
    "started", "name", "vehicle", "course", "outcome", "distance", "energy", "duration", "share",
    "consumption", "full_power", "events", "readings", "fixes", "published", "updated",
]  # fmt: skip
SORT_KEYS: tuple[SortKey, ...] = get_args(SortKey)

_COLUMNS: dict[SortKey, InstrumentedAttribute[Any]] = {
    "started": OverviewRow.started_ms,
    "name": OverviewRow.name_key,
    "vehicle": OverviewRow.vehicle_key,
    "course": OverviewRow.course_key,
    "outcome": OverviewRow.outcome,
    "distance": OverviewRow.reserve_distance_m,
    "energy": OverviewRow.reserve_energy_kwh,
    "duration": OverviewRow.reserve_duration_s,
    "share": OverviewRow.share_of_usable_pct,
    "consumption": OverviewRow.consumption_wh_per_km,
    "full_power": OverviewRow.full_power_kw,
    "events": OverviewRow.event_count,
    "readings": OverviewRow.reading_count,
    "fixes": OverviewRow.fix_count,
    "published": OverviewRow.published_ms,
    "updated": OverviewRow.updated_ms,
}


@dataclass(frozen=True, slots=True)
class Search:
    """What a session must have to be listed; None asks for nothing.

    ``text``: words that must all be found, in any order and case, in the set-up or in what was
    written beside an event. ``vehicle``, ``course``: part of its label. ``first_day``,
    ``last_day``: of its start by its own clock, both included. ``outcome``: as in the list.
    ``published``: ``no``, ``yes``, or ``differs`` where the figures are no longer those published.
    ``session_ids``: only these. ``archived``: ``no``, ``yes`` or ``all``.
    """

    text: str | None = None
    vehicle: str | None = None
    course: str | None = None
    first_day: date | None = None
    last_day: date | None = None
    outcome: str | None = None
    published: str | None = None
    session_ids: tuple[UUID, ...] | None = None
    archived: str = "no"

    def conditions(self) -> Iterator[ColumnElement[bool]]:
        """What a line must fulfil."""
        for word in (self.text or "").casefold().split():
            yield OverviewRow.words.contains(word, autoescape=True)
        if self.vehicle:
            yield OverviewRow.vehicle_key.contains(self.vehicle.casefold(), autoescape=True)
        if self.course:
            yield OverviewRow.course_key.contains(self.course.casefold(), autoescape=True)
        if self.first_day:
            yield OverviewRow.started_day >= self.first_day.isoformat()
        if self.last_day:
            yield OverviewRow.started_day <= self.last_day.isoformat()
        if self.outcome:
            yield OverviewRow.outcome == self.outcome
        if self.published == "no":
            yield OverviewRow.published_ms.is_(None)
        elif self.published == "yes":
            yield OverviewRow.published_ms.is_not(None)
        elif self.published == "differs":
            yield OverviewRow.published_differs.is_(True)
        if self.session_ids is not None:
            yield OverviewRow.session_id.in_(self.session_ids)
        if self.archived != "all":
            yield OverviewRow.archived.is_(self.archived == "yes")


@dataclass(frozen=True, slots=True)
class Order:
    """By what a list is sorted. What isn't known comes last, but for the latest starts first: a
    session that has not begun will begin later than any other did.
    """

    by: SortKey = "started"
    descending: bool = True

    def columns(self) -> list[ColumnElement[Any] | InstrumentedAttribute[Any]]:
        """What the database sorts by; ties by what was added to last."""
        column = _COLUMNS[self.by]
        sorted_by = column.desc() if self.descending else column.asc()
        not_begun_first = self.by == "started" and self.descending
        placed = sorted_by.nulls_first() if not_begun_first else sorted_by.nulls_last()
        return [placed, OverviewRow.updated_ms.desc(), OverviewRow.session_id]
