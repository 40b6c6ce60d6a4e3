"""Values with 95 % intervals.

Intervals are two-sided at 95 % with coverage factor 1.96, normal distribution (JCGM 100:2008,
6.2 and annex G), or for that with a rectangle on top where a figure is known to lie between two
bounds. Where a figure can't be negative its low end is cut at zero.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq
from scipy.special import ndtr

from ebbline.records import Quantity

COVERAGE_FACTOR = 1.959964  # two-sided 95 % of the standard normal distribution
MAD_TO_SIGMA = 1.4826  # median absolute deviation of a normal distribution


def normal(value: float, sd: float, floor: float = -math.inf) -> Quantity | None:
    """A quantity from a mean and a standard deviation; None when either isn't finite.

    ``floor`` is a bound the truth can't lie below (0 for a length); it cuts value and interval.
    """
    if not (math.isfinite(value) and math.isfinite(sd)):
        return None
    half = COVERAGE_FACTOR * sd
    return Quantity(max(value, floor), max(value - half, floor), max(value + half, floor))


def rectangular(
    value: float, half_width: float, sd: float, floor: float = -math.inf
) -> Quantity | None:
    """A quantity off by anything up to ``half_width``, and by a normal error on top.

    The interval is that of the sum of both, not of a normal with its variance, which would be
    too wide by a fifth where the rectangle rules (JCGM 100:2008, G.2.2 note and 4.3.7).
    """
    if not (math.isfinite(value) and math.isfinite(half_width) and math.isfinite(sd)):
        return None
    half = _half_of_sum(half_width, sd)
    return Quantity(max(value, floor), max(value - half, floor), max(value + half, floor))


def _half_of_sum(half_width: float, sd: float) -> float:
    """95 % of a rectangle plus a normal lie within this of their middle."""
    if half_width < 1e-3 * sd:
        return COVERAGE_FACTOR * sd
    if sd < 1e-3 * half_width:
        return 0.95 * half_width

    def beyond(reach: float) -> float:
        """Probability of lying further off, both sides, less 5 %."""
        inner, outer = (reach - half_width) / sd, (reach + half_width) / sd
        covered = _summed_ndtr(outer) - _summed_ndtr(inner)
        return 0.95 - (covered * sd / half_width - 1)

    return float(brentq(beyond, 0.0, half_width + 3 * sd))


def _summed_ndtr(x: float) -> float:
    """Integral of the normal distribution function up to x."""
    return x * float(ndtr(x)) + math.exp(-(x**2) / 2) / math.sqrt(2 * math.pi)


def bounds(low: float, high: float) -> Quantity | None:
    """A quantity known only to lie between two bounds; its value is their middle."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return None
    return Quantity((low + high) / 2, low, high)


def within(quantity: Quantity, least: float, most: float) -> Quantity:
    """A quantity whose truth lies between two bounds: value and interval are cut to them."""
    value, low, high = (
        min(max(part, least), most) for part in (quantity.value, quantity.low, quantity.high)
    )
    return Quantity(value, low, high)


def sd_of(quantity: Quantity) -> float:
    """The standard deviation a quantity's interval stands for."""
    return (quantity.high - quantity.low) / (2 * COVERAGE_FACTOR)


def not_negative(quantity: Quantity | None) -> Quantity | None:
    """A quantity whose truth can't be less than nothing."""
    if quantity is None:
        return None
    return Quantity(max(quantity.value, 0.0), max(quantity.low, 0.0), max(quantity.high, 0.0))


def scaled(quantity: Quantity | None, factor: float) -> Quantity | None:
    """A quantity times a known positive factor."""
    if quantity is None:
        return None
    return Quantity(quantity.value * factor, quantity.low * factor, quantity.high * factor)


def ratio(numerator: Quantity | None, denominator: Quantity | None) -> Quantity | None:
    """A quotient of independent positive quantities, to first order (JCGM 100:2008, eq. 12)."""
    if numerator is None or denominator is None or denominator.value <= 0:
        return None
    value = numerator.value / denominator.value
    sd = math.hypot(
        sd_of(numerator) / denominator.value,
        value * sd_of(denominator) / denominator.value,
    )
    return normal(value, sd)


def overlap(one: Quantity, other: Quantity) -> bool:
    """Whether two independent quantities agree: their difference lies within its 95 %."""
    return abs(one.value - other.value) <= COVERAGE_FACTOR * math.hypot(sd_of(one), sd_of(other))
