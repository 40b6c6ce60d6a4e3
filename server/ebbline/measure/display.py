"""What a display says of the truth: the interval that a shown figure stands for."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

from ebbline.records.evidence import Event, Reading
from ebbline.vocabulary import usual_resolution


def shown_soc_pct(event: Event) -> float | None:
    """The % that the display stepped to with an event; None where that isn't what it reports."""
    if event.kind == "zero_soc":
        return 0.0
    return event.value if event.kind == "soc_step" else None


# How far beside the edge between two figures a display may change, in steps: it reckons with some
# more digits than it shows, and shows them a little later (common practice, no source).
_EDGE = 0.05


def as_shown(reading: Reading) -> tuple[Reading, ...]:
    """A reading as figures that the display had: itself, or of a change that leaves out figures
    between, or falls to nothing as by a reset, the one before it and the one after.
    """
    if reading.changed_from is None or reading.value is None or edge_of(reading) is not None:
        return (reading,)
    assert reading.t_to_ms is not None
    before = replace(reading, value=reading.changed_from, changed_from=None, t_to_ms=reading.t_ms)
    after = replace(reading, t_ms=reading.t_to_ms, changed_from=None)
    return before, after


def edge_of(reading: Reading) -> float | None:
    """The truth at the moment a display changed by one step, in its own unit; None of all others.

    ``nearest``: midway between the two figures; ``down``: the upper one, whichever way it changed.
    """
    before, value = reading.changed_from, reading.value
    if before is None or value is None or reading.about:
        return None
    if abs(value - before) > 1.5 * _step(reading) or value == 0 < before:
        return None
    return max(before, value) if reading.rounding == "down" else (before + value) / 2


def interval_of(reading: Reading) -> tuple[float, float]:
    """What a reading says of the truth, in its own unit: [low, high].

    ``nearest``: value ± resolution/2; ``down``: [value, value + resolution). A figure that was only
    said roughly is off by up to one unit of its last digit either way. A display seen to change by
    one step tells where the truth then was to within a tenth of that.
    """
    if reading.value is None:
        return math.nan, math.nan
    if reading.about:
        reach = reading.resolution or last_digit(reading.value)
        return reading.value - reach, reading.value + reach
    resolution = _step(reading)
    edge = edge_of(reading)
    if edge is not None:
        return edge - _EDGE * resolution, edge + _EDGE * resolution
    if reading.rounding == "down":
        return reading.value, reading.value + resolution
    return reading.value - resolution / 2, reading.value + resolution / 2


def _step(reading: Reading) -> float:
    if reading.resolution is None:
        return usual_resolution(reading.quantity, reading.unit)
    return reading.resolution


def last_digit(value: float) -> float:
    """One unit of the last digit that a figure was said with: 1 for 2, 0.1 for 2.5.

    A trailing zero doesn't survive the ways of a figure, so 2.0 counts as 2.
    """
    digits = Decimal(str(value)).normalize().as_tuple().exponent
    return float(10.0**digits) if isinstance(digits, int) and digits < 0 else 1.0
