"""Figures as somebody would say them in a sentence: no more digits than their doubt allows, and the
doubt in words.
"""

from __future__ import annotations

import math

from ebbline.records.result import Quantity
from ebbline.report.figures import NO_BREAK, Dimension, Units, number

_MINUTES_FROM_S, _HOURS_FROM_S = 120.0, 7200.0
_ABOUT_DIGITS = 2
_NAMES = {"mi": ("mile", "miles"), "min": ("minute", "minutes"), "s": ("second", "seconds"),
          "h": ("hour", "hours")}  # fmt: skip


def said(units: Units, dimension: Dimension, quantity: Quantity) -> str:
    """'7.90 km, give or take 0.03 km': a doubt of one digit, rounded up so that what is said holds
    the whole interval; 'between 0.05 and 10 km' where the doubt is as large as the figure.
    """
    (value, low, high), unit = _shown(units, dimension, quantity)
    half = max(high - value, value - low)
    if half <= 0:
        return f"{_plain(value, _step_of_digits(value, 3))}{_named(unit, value)}"
    if half > value / 2:
        return _between(low, high, unit)
    step = 10.0 ** math.floor(math.log10(half))
    shown, doubt = _rounded(value, low, high, step)
    if doubt >= 10 * step:
        step *= 10
        shown, doubt = _rounded(value, low, high, step)
    return (
        f"{_plain(shown, step)}{_named(unit, shown)}, give or take "
        f"{_plain(doubt, step)}{_named(unit, doubt)}"
    )


def about(units: Units, dimension: Dimension, quantity: Quantity) -> str:
    """'about 24 km': two digits, fewer where its doubt is coarser than that; 'between ... and ...'
    where it is as large as the figure.
    """
    (value, low, high), unit = _shown(units, dimension, quantity)
    half = max(high - value, value - low)
    if half > abs(value) / 2:
        return _between(low, high, unit)
    step = _step_of_digits(value, _ABOUT_DIGITS)
    if half > step:
        step = 10.0 ** math.floor(math.log10(half))
    shown = round(value / step) * step
    return f"about {_plain(shown, step)}{_named(unit, shown)}"


def _shown(
    units: Units, dimension: Dimension, quantity: Quantity
) -> tuple[tuple[float, float, float], str]:
    """Value, low and high in the unit that is said; of a time in one that suits its length."""
    if dimension == "duration":
        unit, one_s = ("s", 1.0)
        if abs(quantity.value) >= _MINUTES_FROM_S:
            unit, one_s = ("min", 60.0)
        if abs(quantity.value) >= _HOURS_FROM_S:
            unit, one_s = ("h", 3600.0)
        return (quantity.value / one_s, quantity.low / one_s, quantity.high / one_s), unit
    low, high = sorted(units.convert(dimension, end) for end in (quantity.low, quantity.high))
    return (units.convert(dimension, quantity.value), low, high), units.unit(dimension)


def _rounded(value: float, low: float, high: float, step: float) -> tuple[float, float]:
    """A figure in steps, and by how many steps the ends of its interval may be off it."""
    shown = round(value / step) * step
    return shown, math.ceil(max(high - shown, shown - low) / step - 1e-6) * step


def _between(low: float, high: float, unit: str) -> str:
    """Both ends rounded outward to two digits."""
    least, most = (_step_of_digits(end, _ABOUT_DIGITS) for end in (low, high))
    top = math.ceil(high / most - 1e-6) * most
    upper = f"{_plain(top, _step_of_digits(top, _ABOUT_DIGITS))}{_named(unit, top)}"
    if low <= 0:
        return f"at most {upper}"
    return f"between {_plain(math.floor(low / least + 1e-6) * least, least)} and {upper}"


def _step_of_digits(value: float, digits: int) -> float:
    return 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1) if value else 1.0


def _plain(value: float, step: float) -> str:
    return number(value, max(0, -math.floor(math.log10(step) + 1e-9)))


def _named(unit: str, value: float) -> str:
    if not unit:
        return ""
    names = _NAMES.get(unit)
    return NO_BREAK + (unit if names is None else names[0] if value == 1 else names[1])
