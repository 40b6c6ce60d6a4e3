"""Which records stand: of a record and all that goes back to it, the last that nothing replaces.

Originals stay in the evidence. 'Last' is by order of recording, the order of a session file: a
correction may bear any stamp. The phone and the desk have the same rule in ``pwa/shared/rules.js``;
both are held to the cases in ``tests/rules/cases.json``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from ebbline.measure.naming import stamped
from ebbline.records.evidence import Event, Reading
from ebbline.records.result import Finding


class Correctable(Protocol):
    """What the rule needs of a record; ``withdraws`` says that it reports nothing itself."""

    @property
    def id(self) -> str:
        """Its own name."""

    @property
    def corrects(self) -> str | None:
        """The name of the record that this one replaces, here or not."""

    @property
    def withdraws(self) -> bool:
        """Whether it only takes that one back."""


@dataclass(frozen=True, slots=True)
class Link:
    """A record without its content."""

    id: str
    corrects: str | None
    withdraws: bool


_Record = TypeVar("_Record", bound=Correctable)
_Stamped = TypeVar("_Stamped", Event, Reading)


def standing(records: Sequence[_Record]) -> list[_Record]:
    """The records that count, in the order given, which is that of recording."""
    last = {ends[-1].id for ends in _ends(records).values()}
    return [record for record in records if record.id in last and not record.withdraws]


def current_events(events: Sequence[Event]) -> tuple[list[Event], list[Finding]]:
    """Events that count, in order of their stamps, each under the kind that it reports."""
    found = [_as_reported(event) for event in standing(events)]
    return sorted(found, key=lambda event: event.t_ms), _corrected_twice(events)


def current_readings(readings: Sequence[Reading]) -> tuple[list[Reading], list[Finding]]:
    """Readings that count, in order of their stamps."""
    found = standing(readings)
    return sorted(found, key=lambda reading: reading.t_ms), _corrected_twice(readings)


def _as_reported(event: Event) -> Event:
    """A step of the display to 0 % is the 0 % itself."""
    if event.kind == "soc_step" and event.value == 0:
        return replace(event, kind="zero_soc", value=None, unit=None)
    return event


def _ends(records: Sequence[_Record]) -> dict[str, list[_Record]]:
    """By original, what goes back to it and isn't replaced, in the order given."""
    replaces = {record.id: record.corrects for record in records}
    replaced = set(replaces.values())
    ends: dict[str, list[_Record]] = {}
    for record in records:
        if record.id in replaced:
            continue
        original, before = record.id, record.corrects
        while before is not None:
            original, before = before, replaces.get(before)
        ends.setdefault(original, []).append(record)
    return ends


def _corrected_twice(records: Sequence[_Stamped]) -> list[Finding]:
    return [
        Finding(
            "doubt",
            "corrected_twice",
            f"{' and '.join(stamped(end) for end in ends)} correct the same record; the one "
            f"recorded last counts.",
            f"record {original}, corrected by {' and by '.join(end.id for end in ends)}",
        )
        for original, ends in _ends(records).items()
        if len(ends) > 1
    ]
