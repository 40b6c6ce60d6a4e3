"""What earlier sessions know, to be proposed in the next: cars by their label, warnings by their
words. Somebody sees each proposal before it becomes a record.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from ebbline.exchange.facts import stated
from ebbline.store import known
from ebbline.vocabulary import FACTS

LASTING = [path for path, row in FACTS.items() if row.of == "car" and not row.anew]


@dataclass(frozen=True, slots=True)
class KnownCar:
    """A car as the latest session that stated anything of it has it: facts by their place in the
    set-up, those apart that are asked anew each time.
    """

    label: str
    facts: dict[str, Any]
    saved_ms: int


@dataclass(frozen=True, slots=True)
class KnownWarning:
    """What a car said, and the class that these words were last put into."""

    text: str
    warning_class: str


@dataclass(frozen=True, slots=True)
class Known:
    """Both, the latest first."""

    cars: list[KnownCar]
    warnings: list[KnownWarning]


def known_from(db_session: Session) -> Known:
    """What all sessions know, archived ones included."""
    cars: dict[str, KnownCar] = {}
    for saved_ms, setup in known.setups_with_a_car(db_session):
        label = str(stated(setup, "vehicle.label")).strip()
        facts = {path: stated(setup, path) for path in LASTING}
        facts = {path: value for path, value in facts.items() if value is not None}
        if label and (label not in cars or not cars[label].facts):
            cars[label] = KnownCar(label, facts, saved_ms)
    warnings: dict[str, KnownWarning] = {}
    for text, name in known.classed_warnings(db_session):
        words = " ".join(text.split())
        if words:
            warnings.setdefault(words.casefold(), KnownWarning(words, name))
    return Known(list(cars.values()), list(warnings.values()))
