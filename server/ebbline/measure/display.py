"""What a display says of the truth: the interval that a shown figure stands for."""

from __future__ import annotations

import math
from decimal import Decimal

from ebbline.records.evidence import Event, Reading
from ebbline.vocabulary import usual_resolution


def shown_soc_pct(event: Event) -> float | None:
    """The % that the display stepped to with an event; None where that isn't what it reports."""
    if event.kind == "zero_soc":
        return 0.0
    return event.value if event.kind == "soc_step" else None


def interval_of(reading: Reading) -> tuple[float, float]:
    """What a reading says of the truth, in its own unit: [low, high].

    ``nearest``: value ± resolution/2; ``down``: [value, value + resolution). A figure that was only
    said roughly is off by up to one unit of its last digit either way.
    """
    if reading.value is None:
        return math.nan, math.nan
    if reading.about:
        reach = reading.resolution or last_digit(reading.value)
        return reading.value - reach, reading.value + reach
    resolution = reading.resolution
    if resolution is None:
        resolution = usual_resolution(reading.quantity, reading.unit)
    if reading.rounding == "down":
        return reading.value, reading.value + resolution
    return reading.value - resolution / 2, reading.value + resolution / 2


def last_digit(value: float) -> float:
    """One unit of the last digit that a figure was said with: 1 for 2, 0.1 for 2.5.

    A trailing zero doesn't survive the ways of a figure, so 2.0 counts as 2.
    """
    digits = Decimal(str(value)).normalize().as_tuple().exponent
    return float(10.0**digits) if isinstance(digits, int) and digits < 0 else 1.0
