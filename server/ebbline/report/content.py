"""The report as blocks of text, tables and pictures, before anybody sets it: HTML and PDF are two
ways of setting the same blocks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from ebbline.report.figures import Figure

Tone: TypeAlias = Literal["plain", "strong", "alarm", "doubt", "good"]

SEVERITIES: dict[str, tuple[str, Tone]] = {  # of findings, the gravest first
    "error": ("Error", "alarm"), "doubt": ("Doubt", "doubt"), "note": ("Note", "plain"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Headline:
    """One headline figure: ``figure`` is None when it is not known, ``source`` says whence,
    ``hangs`` on what, where it hangs on a gap in the positions.
    """

    key: str
    name: str
    figure: Figure | None
    source: str
    hangs: str = ""


@dataclass(frozen=True, slots=True)
class Paragraphs:
    """Running text."""

    texts: tuple[str, ...]
    type: Literal["paragraphs"] = "paragraphs"


@dataclass(frozen=True, slots=True)
class Facts:
    """Names, each with its value."""

    rows: tuple[tuple[str, str], ...]
    type: Literal["facts"] = "facts"


@dataclass(frozen=True, slots=True)
class Remarks:
    """Short statements, each with a word in front that says what it is."""

    rows: tuple[tuple[str, Tone, str], ...]
    type: Literal["remarks"] = "remarks"


@dataclass(frozen=True, slots=True)
class Cell:
    """A table's cell: what counts, and smaller below it what belongs to it."""

    text: str
    small: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A table's row; the first cell names it."""

    cells: tuple[Cell, ...]
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first ``words`` columns hold words, the others figures."""

    caption: str
    columns: tuple[Cell, ...]
    rows: tuple[Row, ...]
    words: int = 1
    type: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Picture:
    """A chart by its name, what it shows in words for those who can't see it, and its caption."""

    name: str
    alt: str
    caption: str
    type: Literal["picture"] = "picture"


Block: TypeAlias = Paragraphs | Facts | Remarks | Table | Picture


@dataclass(frozen=True, slots=True)
class Section:
    """A headed part of the report."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """All of it. ``foot`` names the evidence and the engine; it stands on every page."""

    title: str
    facts: tuple[str, ...]
    summary: str
    shown: str  # what the car's own trip meter said, and why ours differs; empty: not on record
    caution: str
    headlines: tuple[Headline, ...]
    sections: tuple[Section, ...]
    foot: str
    language: str = "en-GB"
