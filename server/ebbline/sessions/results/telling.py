"""What readers are told: how it is put together, and by how much it changed since."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ebbline.records.comparison import Figure
from ebbline.records.result import Bounds, Quantity
from ebbline.report.told import Account, Change, Reworded
from ebbline.vocabulary import event_name, zero_name

# Whoever reads a figure with less than this share of its half-width moved can't tell; without an
# interval, what would show in the third digit does.
TELLING_SHARE = 0.05
_WIDTH_OF_NONE = 0.02


def changes(old: Account, new: Account) -> list[Change]:
    """Which figures that both give changed so that a reader could tell: a value or an end moved by
    more than a twentieth of the old interval's half-width. What only one of them names is told by
    its sayings.
    """
    before = {told.key: told.figure for told in old.figures}
    found = [
        Change(told, before[told.key], _moved(before[told.key], told.figure))
        for told in new.figures
        if told.key in before
    ]
    return [one for one in found if one.moved > TELLING_SHARE]


def reworded(old: Account, new: Account) -> list[Reworded]:
    """Which sayings are others now."""
    keys = dict.fromkeys((*old.sayings, *new.sayings))
    told = [Reworded(key, old.sayings.get(key), new.sayings.get(key)) for key in keys]
    return [one for one in told if one.old != one.new]


def differ(old: Account, new: Account) -> bool:
    """Whether readers would be told something else now."""
    return bool(changes(old, new) or reworded(old, new))


def figure(found: Mapping[str, float | None] | None) -> Figure:
    """A figure of a document as a record."""
    if found is None:
        return None
    value, low, high = found["value"], found["low"], found["high"]
    if value is None or low is None or high is None:
        return Bounds(value, low, high)
    return Quantity(value, low, high)


def counted_from(zero_basis: str | None) -> str:
    """The saying of a zero, by its name in documents."""
    name = zero_name(zero_basis)
    return f"the figures count from \u201c{name}\u201d" if name else "no zero is known"


def ended_at(reserve_end: str | None) -> str:
    """The saying of an end, by its name in documents."""
    if reserve_end is None:
        return "no end of the reserve is known"
    return f"the reserve ends at \u201c{event_name(reserve_end)}\u201d"


def _moved(old: Figure, new: Figure) -> float:
    """By how many of its old half-widths; infinite where only one of them is known."""
    if old is None or new is None:
        return 0.0 if old is new else math.inf
    pairs = ((old.value, new.value), (old.low, new.low), (old.high, new.high))
    known = [(before, after) for before, after in pairs if before is not None and after is not None]
    if len(known) < sum(before is not None or after is not None for before, after in pairs):
        return math.inf
    moved = max((abs(after - before) for before, after in known), default=0.0)
    largest = max((abs(before) for before, _ in known), default=0.0)
    width = 0.0 if old.low is None or old.high is None else old.high - old.low
    return moved / (width / 2 or _WIDTH_OF_NONE * largest) if moved else 0.0
