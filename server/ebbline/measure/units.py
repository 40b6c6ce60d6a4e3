"""Units of the trade to SI, by pint, so that no factor is written twice.

Exact factors are those of NIST SP 811.
"""

from __future__ import annotations

from functools import cache

import pint

_REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(cache_folder=None)
_SPELLED = {
    "kWh/100km": "kilowatt_hour / (100 * kilometer)",
    "Wh/km": "watt_hour / kilometer",
    "Wh/mi": "watt_hour / mile",
    "mi/kWh": "mile / kilowatt_hour",
    "km/kWh": "kilometer / kilowatt_hour",
    "kWh": "kilowatt_hour",
    "km": "kilometer",
    "mi": "mile",
    "km/h": "kilometer / hour",
    "mph": "mile / hour",
}


@cache
def factor(unit: str, to: str) -> float:
    """What a value in ``unit`` is multiplied by to be in ``to``, e.g. ``factor("mi", "m")``.

    Raises:
        pint.PintError: unknown or incompatible units; the door refuses those before.
    """
    return float(_REGISTRY.parse_expression(_SPELLED.get(unit, unit)).to(to).magnitude)
