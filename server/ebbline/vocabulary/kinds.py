"""What a row of the vocabulary holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, TypeAlias, get_args

Rounding: TypeAlias = Literal["nearest", "down"]
ZeroBasis: TypeAlias = Literal["zero_soc", "zero_range", "moment"]
ReserveEnd: TypeAlias = Literal["propulsion_off", "contactors_open", "standstill"]
WhichEnd: TypeAlias = Literal["first", "last"]
Phase: TypeAlias = Literal["before", "past", "fading", "off", "charging"]
Group: TypeAlias = Literal["warning", "display", "limits", "end", "charge", "other"]
Tone: TypeAlias = Literal["plain", "warn", "zero", "limit", "off", "charge"]
Emphasis: TypeAlias = Literal["plain", "strong", "alarm"]
FactOf: TypeAlias = Literal["car", "day"]

# Of what either may do: ``done_by`` of an event.
DOERS: Mapping[str, str] = MappingProxyType({"car": "by the car", "crew": "by the crew"})

ROUNDINGS: tuple[Rounding, ...] = get_args(Rounding)
ZERO_BASES: tuple[ZeroBasis, ...] = get_args(ZeroBasis)
RESERVE_ENDS: tuple[ReserveEnd, ...] = get_args(ReserveEnd)
WHICH_ENDS: tuple[WhichEnd, ...] = get_args(WhichEnd)

# The parts of a drive in their order, as the phone's scale names them.
PHASES: Mapping[Phase, str] = MappingProxyType(
    {
        "before": "Before zero",
        "past": "Past zero",
        "fading": "Fading",
        "off": "Shut off",
        "charging": "Charging",
    }
)
# What events tell of, as the desk filters them.
GROUPS: Mapping[Group, str] = MappingProxyType(
    {
        "warning": "Warnings",
        "display": "Display and trip",
        "limits": "Limits and throttle",
        "end": "Shut-off",
        "charge": "Charging",
        "other": "Notes and marks",
    }
)


@dataclass(frozen=True, slots=True)
class Value:
    """A figure that comes with an event.

    Where more than one unit is possible the record must say which; the first is the usual one.
    ``low`` and ``high`` bound what is taken, None: nothing does.
    """

    units: tuple[str, ...]
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Choices:
    """What an event can say beyond its kind: the word in the record, and the words for people.

    ``key`` names the key of the record that holds it, ``label`` its field in a form. Other words
    than these are kept and shown. What stands in ``either`` may be the car's doing or the crew's:
    the record's ``done_by`` says whose.
    """

    words: Mapping[str, str]
    label: str
    key: Literal["text", "class", "done_by"] = "text"
    either: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ask:
    """What the phone asks once the moment is kept.

    Without ``steps`` it offers the event's choices; with them it asks for its value, which
    buttons change by these steps up to ``most``.
    """

    question: str
    steps: tuple[int, ...] = ()
    most: int | None = None


@dataclass(frozen=True, slots=True)
class Key:
    """A button of the drive page.

    Args:
        label: its large words.
        hint: the small ones below, which explain the large ones.
        tone: its colour.
        glyph: strokes of its pictogram on a grid of 24 x 24 (path data of SVG 2, chapter 9).
        places: phases in which it lies under the thumb, and its place there; in the others it is
            in the list of what else can happen.
        ask: what is asked afterwards.
        switch: the name of a key that this kind shares with another, touched in turn.
        once: it names a state that a drive reaches once; after that it is shown as done.
        enters: the phase that begins with it: of the zeros 0 %, and range 0 where the plan counts
            from it; what limits the car, past zero.
    """

    label: str
    hint: str
    tone: Tone
    glyph: str
    places: Mapping[Phase, int] = field(default_factory=dict)
    ask: Ask | None = None
    switch: str | None = None
    once: bool = False
    enters: Phase | None = None


@dataclass(frozen=True, slots=True)
class EventKind:
    """One kind of event.

    Args:
        name: in words, wherever it is named.
        group: what it tells of.
        key: how the phone offers it.
        short: the few words on a flag of a chart, before its value, where the name is too long.
        explained: what a trade's word means, beside the name where there is room.
        value: the figure that may come with it; None: a figure is not shown.
        choices: what it can say beyond its kind.
        emphasis: how loudly ladder, flags and tables show it.
        rung: whether the report's picture of the ladder has it.
        landmark: its rank among the turns of a drive, which map and run chart name where there is
            room and a film has as chapters; None: it is no turn.
        alert: whether those who follow must know at once.
    """

    name: str
    group: Group
    key: Key
    short: str | None = None
    explained: str | None = None
    value: Value | None = None
    choices: Choices | None = None
    emphasis: Emphasis = "plain"
    rung: bool = False
    landmark: int | None = None
    alert: bool = False


@dataclass(frozen=True, slots=True)
class ReadingKind:
    """One quantity of a display.

    Args:
        name: in words, wherever it is named.
        units: those that are taken; the first is the usual one.
        resolution: step of the display's last digit where a reading states none (common practice,
            no source; the coarser one where displays differ, since an interval that is too narrow
            can be refuted).
        resolution_in: the same for units in which it is another.
        rounding: how displays usually round it.
        low, high: bounds of what is taken, None: nothing does.
        on_pad: whether the phone's pad offers it; the desk offers all.
        places: phases in which it is among the pad's first tiles, and its place there.
        per_mile: the unit that a car in miles shows, where it isn't ``mi``.
        only_rises: whether it never falls but to zero, by a reset.
    """

    name: str
    units: tuple[str, ...]
    resolution: float
    rounding: Rounding = "nearest"
    low: float | None = None
    high: float | None = None
    on_pad: bool = False
    places: Mapping[Phase, int] = field(default_factory=dict)
    per_mile: str | None = None
    resolution_in: Mapping[str, float] = field(default_factory=dict)
    only_rises: bool = False


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact that a set-up can state.

    Args:
        name: in words, wherever it is named.
        of: what it is a fact of. Those of the car go with its label; the day is the same for the
            next car.
        kind: what the set-up holds; a whole number is written without a fraction.
        unit: in which it is kept.
        above, low, high: bounds of what is taken, the first excluded; None: nothing does.
        anew: it is another one each time, so that no session starts from the last one's.
        spread: it is the standard deviation of the fact before it; people see and give the half
            width of a 95 % interval.
        first: whether the phone asks it at once; the rest is folded.
        ticked: the item of the phone's checklist that says yes where the set-up says nothing.
    """

    name: str
    of: FactOf
    kind: Literal["number", "whole", "text", "flag"]
    unit: str | None = None
    above: float | None = None
    low: float | None = None
    high: float | None = None
    anew: bool = False
    spread: bool = False
    first: bool = False
    ticked: str | None = None
