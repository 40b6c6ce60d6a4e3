"""What an editor may ask of a film's tracks."""

from __future__ import annotations

from dataclasses import dataclass

USUAL_RATE = 1.0  # cards and data each second


@dataclass(frozen=True, slots=True)
class FilmOptions:
    """``rate``: cards and data per second of film. ``left``: captions say what was left until the
    car stopped, which gives the end away.
    """

    rate: float = USUAL_RATE
    left: bool = False


USUAL = FilmOptions()
