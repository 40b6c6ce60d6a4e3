"""The facts of car and day that a document states, whoever filled them in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ebbline.measure.standing import Link, standing
from ebbline.vocabulary import FACTS


def facts_of(document: Mapping[str, Any]) -> dict[str, Any]:
    """Every fact of the vocabulary that is known, by its place in the set-up, in the table's order.

    Where the set-up says nothing of a flag, it is true once its item of the checklist stands
    ticked on a phone; an item that nobody ticked says nothing. The desk has the same rule in
    ``pwa/shared/facts.js``; both are held to the cases in ``tests/rules/cases.json``.
    """
    ticked = ticked_items(document.get("events") or ())
    found: dict[str, Any] = {}
    for path, row in FACTS.items():
        value = stated(document, path)
        if value is None and row.ticked in ticked:
            value = True
        if value is not None:
            found[path] = value
    return found


def stated(setup: Mapping[str, Any], path: str) -> Any:
    """What a set-up says at a place such as ``vehicle.pack.usable_kwh``; None: nothing."""
    part: Any = setup
    for key in path.split("."):
        part = (part or {}).get(key)
    return part


def ticked_items(events: Iterable[Mapping[str, Any]]) -> set[str]:
    """The items of the checklist that stand ticked on any phone, by its last word on each."""
    notes = {event["id"]: event for event in events if event.get("log") == "checklist"}
    links = [
        Link(event["id"], event.get("corrects"), bool(event.get("withdraws")))
        for event in notes.values()
    ]
    last: dict[tuple[str, str], bool] = {}
    for link in standing(links):
        note = notes[link.id]
        tick = note.get("checklist")
        if isinstance(tick, dict):
            last[note["device"], str(tick.get("item"))] = tick.get("ticked") is True
    return {item for (_, item), ticked in last.items() if ticked}
