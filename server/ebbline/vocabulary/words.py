"""Words for what a session records. The pages have the same rules in ``shared/vocabulary.js``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ebbline.vocabulary.events import EVENTS
from ebbline.vocabulary.kinds import DOERS
from ebbline.vocabulary.readings import READINGS

_UNIT_NAMES = {"degC": "°C", "kWh/100km": "kWh/100 km"}

_RESERVE_MODELS = {
    "fixed": "a fixed amount",
    "proportional": "a share of the pack",
    "mixed": "some of both",
}


def event_name(kind: str) -> str:
    """Words for a kind of event; one we don't know is shown as it is written."""
    known = EVENTS.get(kind)
    return known.name if known else kind.replace("_", " ")


def event_explained(kind: str) -> str:
    """The same, and behind it what a trade's word means."""
    known = EVENTS.get(kind)
    return f"{known.name} ({known.explained})" if known and known.explained else event_name(kind)


def reading_name(quantity: str) -> str:
    """Words for a reading's quantity; one we don't know is shown as it is written."""
    known = READINGS.get(quantity)
    return known.name if known else quantity.replace("_", " ")


def unit_name(unit: str | None) -> str:
    """A unit as it is shown."""
    return _UNIT_NAMES.get(unit or "", unit or "")


def zero_name(basis: str | None) -> str | None:
    """Words for what zero was taken to be."""
    if basis is None:
        return None
    return "A chosen moment" if basis == "moment" else event_name(basis)


def reserve_model_name(name: str) -> str:
    """Words for what the reserve of cars may be."""
    return _RESERVE_MODELS[name]


def first_upper(words: str) -> str:
    """Words as a sentence begins with them."""
    return words[:1].upper() + words[1:]


def warning_class_name(class_: str) -> str:
    """Words for a class of warnings; one we don't know is shown as it is written."""
    choices = EVENTS["warning"].choices
    return (choices.words if choices else {}).get(class_, class_)


def usual_resolution(quantity: str, unit: str) -> float:
    """Step of a display's last digit where a reading states none, in its unit."""
    known = READINGS[quantity]
    return known.resolution_in.get(unit, known.resolution)


def event_words(event: Mapping[str, Any]) -> str:
    """One event of the session file in words: what it was, and what was noted with it."""
    name, detail = event_name(event["kind"]), event_detail(event)
    if not detail:
        return name
    return detail if event["kind"] == "note" else f"{name}: {detail}"


def event_detail(event: Mapping[str, Any]) -> str:
    """What was noted with an event beyond its kind; empty where nothing was."""
    known = EVENTS.get(event["kind"])
    value, text = event.get("value"), event.get("text")
    parts = []
    if value is not None and (known is None or known.value):
        units = known.value.units if known and known.value else ()
        unit = event.get("unit") or (units[0] if len(units) == 1 else None)
        parts.append(f"{value:g}\u00a0{unit_name(unit)}".rstrip().replace("-", "\u2212"))
    if known and known.choices and known.choices.key == "class":
        said = str(event.get("class") or "")
        chosen = known.choices.words.get(said, said)
        quoted = f"\u201c{text}\u201d" if text else ""
        parts.append(f"{quoted} ({chosen})" if quoted and chosen else quoted or chosen)
    else:
        words = known.choices.words if known and known.choices else {}
        parts.append(words.get(text or "", text or ""))
    parts.append(DOERS.get(_done_by(event), ""))
    return ", ".join(part for part in parts if part)


def _done_by(event: Mapping[str, Any]) -> str:
    """Who did what either may do: ``by``, which names who wrote a record, in older files."""
    known = EVENTS.get(event["kind"])
    open_to_either = (
        known and known.choices and (known.choices.either or known.choices.key == "done_by")
    )
    return str(event.get("done_by") or (event.get("by") if open_to_either else None) or "")
