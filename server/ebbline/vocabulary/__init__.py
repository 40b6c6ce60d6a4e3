"""Everything a session can record, once: each kind of event, each quantity of a display and each
fact of a car and a day.

A row holds all that phone, desk, follow page, report, film and command line say of it and where
they offer it. The pages' copy is made from here by ``python -m ebbline.vocabulary``. What a kind
means for a figure (which tap is zero, what bounds the energy) stands with the rule.

It needs nothing, and knows no session.
"""

from ebbline.vocabulary.events import DRIVING_KINDS, EVENTS, LANDMARKS
from ebbline.vocabulary.facts import FACTS
from ebbline.vocabulary.kinds import (
    DOERS,
    GROUPS,
    PHASES,
    RESERVE_ENDS,
    ROUNDINGS,
    WHICH_ENDS,
    ZERO_BASES,
    Emphasis,
    Fact,
    ReadingKind,
    ReserveEnd,
    Rounding,
    Value,
    WhichEnd,
    ZeroBasis,
)
from ebbline.vocabulary.readings import READINGS
from ebbline.vocabulary.words import (
    event_detail,
    event_explained,
    event_name,
    event_words,
    first_upper,
    reading_name,
    reserve_model_name,
    unit_name,
    usual_resolution,
    warning_class_name,
    zero_name,
)

__all__ = [
    "DOERS",
    "DRIVING_KINDS",
    "EVENTS",
    "FACTS",
    "GROUPS",
    "LANDMARKS",
    "PHASES",
    "READINGS",
    "RESERVE_ENDS",
    "ROUNDINGS",
    "WHICH_ENDS",
    "ZERO_BASES",
    "Emphasis",
    "Fact",
    "ReadingKind",
    "ReserveEnd",
    "Rounding",
    "Value",
    "WhichEnd",
    "ZeroBasis",
    "event_detail",
    "event_explained",
    "event_name",
    "event_words",
    "first_upper",
    "reading_name",
    "reserve_model_name",
    "unit_name",
    "usual_resolution",
    "warning_class_name",
    "zero_name",
]
