"""The columns that every table of sessions has, so that tables made in different places can be laid
side by side: a figure with both ends of its interval, and what a set-up says by its place.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ebbline.exchange.facts import facts_of
from ebbline.sessions.results.headlines import HEADLINES

OF_FIGURES = ("zero_basis", "reserve_end", "distance_basis", "doubts", "errors")
SECTIONS = ("vehicle", "conditions", "protocol", "course", "session")  # of the set-up
_COLUMNS_OF_THEIR_OWN = ("session.id", "session.title", "session.started_at", "vehicle.label",
                         "course.label")  # fmt: skip


def triple(name: str) -> tuple[str, str, str]:
    """The three columns of a figure."""
    return name, f"{name}_low", f"{name}_high"


def figure_names() -> list[str]:
    """The columns of all headline figures."""
    return [name for headline in HEADLINES for name in triple(headline.key)]


def figure_cells(figures: Mapping[str, Any] | None) -> Iterator[float | None]:
    """What stands in them, from ``headlines.figures_of`` a result."""
    for headline in HEADLINES:
        quantity = (figures or {}).get(headline.key) or {}
        yield from (quantity.get(part) for part in ("value", "low", "high"))


def facts(document: Mapping[str, Any]) -> dict[str, Any]:
    """What a set-up says, by names such as vehicle.pack.usable_kwh, and what a checklist's ticks
    among the events do.
    """
    stated = {
        name: value
        for section in SECTIONS
        for name, value in _leaves(document.get(section), section)
        if name not in _COLUMNS_OF_THEIR_OWN
    }
    return stated | facts_of(document)


def place(name: str) -> tuple[int, str]:
    """By what the columns of facts are sorted."""
    return SECTIONS.index(name.partition(".")[0]), name


def _leaves(value: object, name: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _leaves(part, f"{name}.{key}")
    elif isinstance(value, list):
        for number, part in enumerate(value, start=1):
            yield from _leaves(part, f"{name}.{number}")
    elif value is not None:
        yield name, value
