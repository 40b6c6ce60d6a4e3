"""A figure's interval as a variance, and the difference of two figures."""

from __future__ import annotations

import math

from ebbline.measure.quantity import COVERAGE_FACTOR
from ebbline.records.result import Quantity


def variance_of(quantity: Quantity) -> float:
    """The mean square error about the value that an interval stands for.

    With unequal halves h1 and h2 (in standard deviations s1, s2) the error is taken as a two-piece
    normal distribution with its mode at the value: a side's probability is in proportion to its s,
    so the mean square is (s1³ + s2³) / (s1 + s2) = s1² - s1 s2 + s2² (J. F. C. Kingman's form of
    the distribution is in Wallis, Statistical Science 29 (2014), 106-112; from memory). Equal
    halves give s²; a side that a bound at zero has cut to nothing leaves the other's s² whole.
    """
    below = (quantity.value - quantity.low) / COVERAGE_FACTOR
    above = (quantity.high - quantity.value) / COVERAGE_FACTOR
    return below**2 - below * above + above**2


def difference(one: Quantity, other: Quantity) -> Quantity:
    """The other less the one, independent of each other, each half by the halves that make it."""
    value = other.value - one.value
    below = math.hypot(other.value - other.low, one.high - one.value)
    above = math.hypot(other.high - other.value, one.value - one.low)
    return Quantity(value, value - below, value + above)


def holds_zero(quantity: Quantity) -> bool:
    """Whether nothing at all is among what a figure may be."""
    return quantity.low <= 0 <= quantity.high
