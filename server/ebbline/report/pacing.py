"""Captions that can be read: how long each stays, what shares one, what waits for its turn.

Two lines of 42 signs and 17 signs a second are what subtitlers work by (common practice, no
source).
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from ebbline.report.webvtt import Cue

LEAST_S, SHOWN_S = 2.0, 6.0  # a caption stays so long at least; longer only where there is room
SIGNS_A_SECOND = 17.0
WIDTH, ROWS = 42, 2
LATE_S = 3.0  # the next may come so much later for the sake of figures


@dataclass(frozen=True, slots=True)
class Spoken:
    """What happened at a second of film, and the figures that are told where there is time."""

    at_s: float
    words: str
    figures: tuple[str, ...] = ()


def paced(told: Sequence[Spoken]) -> list[Cue]:
    """Captions one after the other, none before its moment; ``told`` is in order of time."""
    cues: list[Cue] = []
    free_s, waiting = 0.0, list(told)
    while waiting:
        from_s = max(waiting[0].at_s, free_s)
        shared = _sharing(waiting, from_s)
        waiting = waiting[len(shared) :]
        next_s = waiting[0].at_s if waiting else float("inf")
        words = _joined(shared)
        figures = shared[0].figures if len(shared) == 1 else ()
        if from_s + reading_s([words, *figures]) > next_s + LATE_S:
            figures = ()
        rows = [row for text in (words, *figures) for row in textwrap.wrap(text, WIDTH)]
        free_s = from_s + reading_s(rows)
        free_s = max(free_s, min(from_s + SHOWN_S, next_s))
        cues.append(Cue(from_s, free_s, tuple(rows)))
    return cues


def reading_s(rows: Sequence[str]) -> float:
    """How long it takes to read them."""
    return max(LEAST_S, len("\n".join(rows)) / SIGNS_A_SECOND)


def _sharing(waiting: Sequence[Spoken], from_s: float) -> list[Spoken]:
    """The first, and what happens before it could be read, as far as there is room."""
    shared = [waiting[0]]
    for spoken in waiting[1:]:
        soon = spoken.at_s < from_s + reading_s([_joined(shared)])
        if not soon or len(_joined([*shared, spoken])) > WIDTH * ROWS:
            break
        shared.append(spoken)
    return shared


def _joined(shared: Sequence[Spoken]) -> str:
    return "; ".join(spoken.words for spoken in shared)
