"""Units against exact definitions (NIST SP 811; values ran), pint, and a rule's constants."""

from functools import cache
from itertools import product

import pytest
from lazily import lazily

from ebbline.measure.units import UNITS, factor

pint = lazily("pint")
registry = cache(lambda: pint.UnitRegistry(cache_folder=None))  # a second's work
BY_PINT = {
    "kWh/100km": "kWh/(100*km)",
    "mph": "mile/hour",
    "km/h": "km/hour",
    **{unit: unit.replace("mi", "mile") for unit in ("mi", "mi/kWh", "Wh/mi")},
}
PAIRS = [pair for pair in product(UNITS, UNITS) if UNITS[pair[0]][0] == UNITS[pair[1]][0]]


@pytest.mark.parametrize(
    ("unit", "to", "published"),
    [
        ("mi", "m", 1609.344),
        ("mi", "km", 1.609344),
        ("ft", "m", 0.3048),
        ("mph", "m/s", 0.44704),
        ("mph", "km/h", 1.609344),
        ("km/h", "m/s", 1 / 3.6),
        ("kWh", "J", 3.6e6),
        ("kWh/100km", "Wh/km", 10.0),
        ("Wh/mi", "Wh/km", 1 / 1.609344),
        ("mi/kWh", "km/kWh", 1.609344),
    ],
)
def test_a_unit_is_worth_what_its_definition_says(unit, to, published):
    assert factor(unit, to) == pytest.approx(published, rel=1e-15)


@pytest.mark.parametrize(("unit", "to"), PAIRS)
def test_every_factor_is_pints(unit, to):
    """Ours is rounded once; pint rounds at each of its steps."""
    one, other = (registry().parse_expression(BY_PINT.get(name, name)) for name in (unit, to))
    assert factor(unit, to) == pytest.approx((one / other).m_as(""), rel=1e-14)


def test_units_of_different_things_are_refused():
    with pytest.raises(ValueError, match="km measures length, kWh energy"):
        factor("km", "kWh")
    with pytest.raises(KeyError, match="furlong"):
        factor("furlong", "m")


def test_25_kwh_in_100_miles_is_134_82_of_the_rules_miles_per_gallon():
    """40 CFR 600 counts 33.705 kWh to the gallon (constant from memory)."""
    metres_per_kwh = 1 / (250 * factor("Wh/mi", "kWh/m"))
    miles_per_kwh = metres_per_kwh * factor("m/kWh", "mi/kWh")
    assert 33.705 * miles_per_kwh == pytest.approx(134.82, abs=0.01)
