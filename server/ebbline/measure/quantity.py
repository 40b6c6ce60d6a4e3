"""Values with 95 % intervals.

Intervals are two-sided at 95 % with coverage factor 1.96, normal distribution (JCGM 100:2008,
6.2 and annex G), or for that with a rectangle on top where a figure is known to lie between two
bounds, or with a choice of possibilities where it hangs on a gap in the positions. Where a figure
can't be negative its low end is cut at zero. Only a figure that is so by definition has an interval
without width (``exact``): nothing lies between a moment and itself, nothing is left after the end.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from ebbline.records.arrays import FloatArray
from ebbline.records.result import Quantity

COVERAGE_FACTOR = 1.959964  # two-sided 95 % of the standard normal distribution
_TAIL = 0.025  # what an interval leaves out at either end
_FAR = 5.0  # standard deviations beyond which a normal distribution function is taken as 0 or 1
MAD_TO_SIGMA = 1.4826  # median absolute deviation of a normal distribution


def normal(value: float, sd: float, floor: float = -math.inf) -> Quantity | None:
    """A quantity from a mean and a standard deviation; None when either isn't finite or the
    deviation isn't positive.

    ``floor`` is a bound the truth can't lie below (0 for a length); it cuts value and interval.
    """
    if not (math.isfinite(value) and math.isfinite(sd) and sd > 0):
        return None
    half = COVERAGE_FACTOR * sd
    return _cut(value, value - half, value + half, floor)


def exact(value: float) -> Quantity:
    """A figure that is so by definition."""
    return Quantity(value, value, value)


def spread(value: float, sd: float, apart: FloatArray, floor: float = -math.inf) -> Quantity | None:
    """A quantity off by one of ``apart`` (n,), each as likely, and by a normal error on top.

    Its interval leaves out 2.5 % at either end of that mixture; the value stays within.
    """
    if not (math.isfinite(value) and math.isfinite(sd) and sd > 0):
        return None
    apart = np.sort(apart)
    if apart[-1] - apart[0] < 1e-3 * sd:
        return normal(value + float(apart[0]), sd, floor)
    low, high = (value + _end(apart, sd, chance) for chance in (_TAIL, 1 - _TAIL))
    return _cut(min(max(value, low), high), low, high, floor)


def _end(apart: FloatArray, sd: float, chance: float) -> float:
    """Where the distribution function of a mixture of normals reaches so much; ``apart`` (n,) are
    their means, rising.
    """

    def excess(off: float) -> float:
        first, last = np.searchsorted(apart, [off - _FAR * sd, off + _FAR * sd])
        near = float(np.sum(ndtr((off - apart[first:last]) / sd)))
        return (float(first) + near) / apart.size - chance

    rank = chance * apart.size
    least = apart[max(math.floor(rank) - 1, 0)] - _FAR * sd
    most = apart[min(math.ceil(rank) + 1, apart.size - 1)] + _FAR * sd
    return float(brentq(excess, least, most, xtol=1e-3 * sd))


def _cut(value: float, low: float, high: float, floor: float) -> Quantity:
    """An interval less what lies below a bound; all of it below is as much above at most."""
    if high <= floor:
        return Quantity(floor, floor, floor + high - low)
    return Quantity(max(value, floor), max(low, floor), high)


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
    return _cut(value, value - half, value + half, floor)


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
    """A quantity whose truth can't be less than nothing; all of it below is nothing."""
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
