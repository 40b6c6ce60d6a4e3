"""Messages with figures in them, each of which can be told on the reader's own clock and in his
units.

A figure goes into a message marked, between two characters that no text of a person's holds; who
takes the message apart gets it back as a number.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias, cast, get_args

Dimension: TypeAlias = Literal["t_ms", "day_ms", "distance_m", "speed_mps"]

_BEGINS, _ENDS = "\ue000", "\ue001"
_NUMBER = r"-?\d{1,20}(?:\.\d+)?(?:e[+-]\d\d)?"
_MARKED = re.compile(f"{_BEGINS}({'|'.join(get_args(Dimension))}) ({_NUMBER}) ([^{_ENDS}]*){_ENDS}")


@dataclass(frozen=True, slots=True)
class Phrase:
    """Words of a message. Where they tell a figure, ``of`` says of what and ``value`` how much: SI,
    or milliseconds since the epoch; a day's moment is told with its day.
    """

    words: str
    of: Dimension | None = None
    value: float | None = None


def marked(of: Dimension, value: float, words: str) -> str:
    """A figure to be put into a message, with the words that tell it where nothing else is known
    of the reader: SI, and times in UTC. One that is not finite is told by the words alone.
    """
    if not math.isfinite(value):
        return words
    return f"{_BEGINS}{of} {float(value)!r} {words}{_ENDS}"


def phrases_of(message: str) -> Iterator[Phrase]:
    """A message in its parts."""
    end = 0
    for found in _MARKED.finditer(message):
        if found.start() > end:
            yield Phrase(message[end : found.start()])
        of, value, words = found.groups()
        yield Phrase(words, cast(Dimension, of), float(value))
        end = found.end()
    if end < len(message):
        yield Phrase(message[end:])
