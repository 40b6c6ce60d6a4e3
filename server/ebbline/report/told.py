"""What readers were told, and what of it is otherwise now; None: not known, or not said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from ebbline.records.comparison import Figure
from ebbline.report.figures import Dimension, Units

# What is otherwise: the program, the evidence, what is counted and by what.
Reason: TypeAlias = Literal["engine", "evidence", "choices"]


@dataclass(frozen=True, slots=True)
class Told:
    """A figure: its name in tables, its words inside a sentence, what it is, and whose. ``step``:
    an amount with its unit, for so much more of which the figure is; it ends the words.
    """

    key: str
    words: str
    dimension: Dimension
    figure: Figure
    of: str | None = None
    step: tuple[float, str] | None = None

    def said(self, units: Units) -> str:
        """Its words in the reader's units."""
        return self.words if self.step is None else f"{self.words} {units.step(*self.step)} more"


@dataclass(frozen=True, slots=True)
class Account:
    """All that readers were told: figures, and by their names sayings that go inside a sentence.

    ``scope``: which figures these are, as words. ``text``: what was said of them in full.
    """

    figures: tuple[Told, ...]
    sayings: Mapping[str, str]
    scope: str
    text: str | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """A figure as it is now, and what it was; by how many of its old half-widths it moved."""

    told: Told
    old: Figure
    moved: float


@dataclass(frozen=True, slots=True)
class Reworded:
    """What is said otherwise."""

    key: str
    old: str | None
    new: str | None
