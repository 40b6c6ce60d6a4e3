"""Units of the trade in SI, each written once and exactly.

Factors are exact by definition (NIST SP 811, appendix B; the mile is 1609.344 m, the foot 0.3048 m)
and kept as fractions, so that the quotient of two is rounded only once. A test holds them against
pint.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache

_METRE, _SECOND, _JOULE = Fraction(1), Fraction(1), Fraction(1)
_KILOMETRE, _MILE = 1000 * _METRE, Fraction("1609.344") * _METRE
_HOUR = 3600 * _SECOND
_WATT_HOUR = 3600 * _JOULE
_KILOWATT_HOUR = 1000 * _WATT_HOUR

# What each unit measures, and its size in SI.
UNITS: dict[str, tuple[str, Fraction]] = {
    "m": ("length", _METRE),
    "km": ("length", _KILOMETRE),
    "mi": ("length", _MILE),
    "ft": ("length", Fraction("0.3048") * _METRE),
    "m/s": ("speed", _METRE / _SECOND),
    "km/h": ("speed", _KILOMETRE / _HOUR),
    "mph": ("speed", _MILE / _HOUR),
    "J": ("energy", _JOULE),
    "Wh": ("energy", _WATT_HOUR),
    "kWh": ("energy", _KILOWATT_HOUR),
    "kWh/m": ("energy over length", _KILOWATT_HOUR / _METRE),
    "kWh/100km": ("energy over length", _KILOWATT_HOUR / (100 * _KILOMETRE)),
    "Wh/km": ("energy over length", _WATT_HOUR / _KILOMETRE),
    "Wh/mi": ("energy over length", _WATT_HOUR / _MILE),
    "m/kWh": ("length over energy", _METRE / _KILOWATT_HOUR),
    "km/kWh": ("length over energy", _KILOMETRE / _KILOWATT_HOUR),
    "mi/kWh": ("length over energy", _MILE / _KILOWATT_HOUR),
}


@cache
def factor(unit: str, to: str) -> float:
    """What a value in ``unit`` is multiplied by to be in ``to``, e.g. ``factor("mi", "m")``.

    Raises:
        KeyError: a unit that isn't in ``UNITS``; the door refuses those before.
        ValueError: the two measure different things.
    """
    (measures, size), (wanted, size_of_to) = UNITS[unit], UNITS[to]
    if measures != wanted:
        raise ValueError(f"{unit} measures {measures}, {to} {wanted}")
    return float(size / size_of_to)
