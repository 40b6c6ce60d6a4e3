from __future__ import annotations

import math

import numpy as np
import pytest
from invented_drives import a_drive, known

from ebbline.compare.doubt import difference, variance_of
from ebbline.compare.pair import compare_two
from ebbline.records.comparison import DifferingFact
from ebbline.records.result import Quantity


def test_two_sessions_side_by_side() -> None:
    one = a_drive(
        "one",
        figures={"reserve.energy_kwh": known(1.0), "recharge.trickle_s": known(60.0, 5.0)},
        facts={"conditions.ambient_c": 9.0, "vehicle.software": "1.0", "course.label": "One"},
    )
    other = a_drive(
        "two",
        figures={"reserve.energy_kwh": known(1.1), "distance.total_m": known(2e4, 10.0)},
        facts={"conditions.ambient_c": 24.0, "course.label": "One"},
    )
    pair = compare_two(one, other)
    energy, trickle, distance = pair.figures
    assert energy.difference.value == pytest.approx(0.1)
    assert energy.agrees is False  # 0.1 against 1.96 · 0.028 = 0.055
    assert trickle.other is None
    assert trickle.agrees is None
    assert distance.one is None
    assert pair.differs == (
        DifferingFact("conditions.ambient_c", 9.0, 24.0),
        DifferingFact("vehicle.software", "1.0", None),
    )


def test_halves_of_a_difference_come_from_the_halves_that_make_it() -> None:
    """Later less first can be lower where the later is lower or the first is higher."""
    found = difference(Quantity(1.0, 0.9, 1.3), Quantity(2.0, 1.6, 2.05))
    assert found.value == pytest.approx(1.0)
    assert found.value - found.low == pytest.approx(math.hypot(0.4, 0.3))
    assert found.high - found.value == pytest.approx(math.hypot(0.05, 0.1))


def test_variance_of_unequal_halves_is_the_mean_square_of_a_two_piece_normal() -> None:
    """By numbers: a side's probability goes with its standard deviation."""
    factor, (below, above) = 1.959964, (0.1, 0.3)
    x = np.linspace(-3, 3, 600_001)
    density = np.exp(-(x**2) / 2 / np.where(x < 0, below, above) ** 2)
    mean_square = np.sum(x**2 * density) / np.sum(density)
    quantity = Quantity(1.0, 1 - factor * below, 1 + factor * above)
    assert variance_of(quantity) == pytest.approx(mean_square, rel=1e-4)
    assert variance_of(Quantity(0.0, 0.0, factor * above)) == pytest.approx(above**2, rel=1e-6)
