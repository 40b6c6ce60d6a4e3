"""What a display says of the truth: the interval that a shown figure stands for."""

from __future__ import annotations

import math

from ebbline.records import Event, Reading
from ebbline.vocabulary import usual_resolution


def shown_soc_pct(event: Event) -> float | None:
    """The % that the display stepped to with an event; None where that isn't what it reports."""
    if event.kind == "zero_soc":
        return 0.0
    return event.value if event.kind == "soc_step" else None


def interval_of(reading: Reading) -> tuple[float, float]:
    """What a reading says of the truth, in its own unit: [low, high].

    ``nearest``: value ± resolution/2; ``down``: [value, value + resolution).
    """
    if reading.value is None:
        return math.nan, math.nan
    resolution = reading.resolution
    if resolution is None:
        resolution = usual_resolution(reading.quantity, reading.unit)
    if reading.rounding == "down":
        return reading.value, reading.value + resolution
    return reading.value - resolution / 2, reading.value + resolution / 2
