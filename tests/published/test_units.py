"""Units against exact definitions (NIST SP 811; values ran) and a rule's constants."""

import pytest

from ebbline.measure.units import factor


@pytest.mark.parametrize(
    ("unit", "to", "published"),
    [
        ("mi", "m", 1609.344),
        ("mi", "km", 1.609344),
        ("mph", "m/s", 0.44704),
        ("mph", "km/h", 1.609344),
        ("km/h", "m/s", 1 / 3.6),
        ("kWh", "J", 3.6e6),
        ("horsepower", "W", 745.699872),
        ("lbf", "N", 4.4482216152605),
        ("lbf/mph", "N/(m/s)", 9.950388366),
        ("lbf/mph^2", "N/(m/s)^2", 22.25838486),
        ("lbf/mph", "N/(km/h)", 2.763996768),
        ("lbf/mph^2", "N/(km/h)^2", 1.717467967),
        ("kWh/(100*mile)", "Wh/km", 6.21371192),
        ("kWh/100km", "Wh/km", 10.0),
        ("Wh/mi", "Wh/km", 1 / 1.609344),
        ("mi/kWh", "km/kWh", 1.609344),
    ],
)
def test_a_unit_is_worth_what_its_definition_says(unit, to, published):
    assert factor(unit, to) == pytest.approx(published, rel=1e-9)


def test_25_kwh_in_100_miles_is_134_82_of_the_rules_miles_per_gallon():
    """40 CFR 600 counts 33.705 kWh to the gallon (constant from memory)."""
    miles_per_kwh = 1 / (25 * factor("kWh/(100*mile)", "kWh/mi"))
    assert 33.705 * miles_per_kwh == pytest.approx(134.82, abs=0.01)
