"""What an editor may ask of a film's tracks."""

from __future__ import annotations

from dataclasses import dataclass

USUAL_RATE = 1.0  # cards and data each second
# What a camera calls 23.976, 29.97 or 59.94 is a thousandth less than 24, 30 or 60.
_A_THOUSANDTH_LESS = {23.976: 24, 29.97: 30, 59.94: 60, 47.952: 48}


@dataclass(frozen=True, slots=True)
class FilmOptions:
    """``rate``: cards and data per second of film. ``left``: captions say what was left until the
    car stopped, which gives the end away.
    """

    rate: float = USUAL_RATE
    left: bool = False

    def __post_init__(self) -> None:
        """Take a rate that is written short for what it is."""
        whole = _A_THOUSANDTH_LESS.get(self.rate)
        if whole is not None:
            object.__setattr__(self, "rate", whole * 1000 / 1001)


USUAL = FilmOptions()
