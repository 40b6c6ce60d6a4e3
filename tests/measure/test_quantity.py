"""Values with intervals."""

import math

import numpy as np
import pytest

from ebbline.measure import quantity
from ebbline.records.result import Quantity


def test_normal_uses_the_coverage_factor_of_95_percent():
    """JCGM 100:2008, table G.1: k = 1.960 at 95 % for a normal distribution (from memory)."""
    found = quantity.normal(10.0, 1.0)
    assert found is not None
    assert (found.low, found.high) == pytest.approx((8.04, 11.96), abs=1e-3)


@pytest.mark.parametrize(("value", "sd"), [(math.nan, 1.0), (1.0, math.inf)])
def test_what_is_not_finite_is_not_a_quantity(value: float, sd: float):
    assert quantity.normal(value, sd) is None


def test_a_length_is_never_negative():
    found = quantity.normal(1.0, 5.0, floor=0.0)
    assert found is not None
    assert found.low == 0.0
    assert found.high == pytest.approx(10.8, abs=0.01)


def test_ratio_adds_relative_doubts_in_squares():
    """JCGM 100:2008, 5.1.6: relative variances of a quotient add."""
    numerator = quantity.normal(2.0, 0.02)
    denominator = quantity.normal(4.0, 0.08)
    found = quantity.ratio(numerator, denominator)
    assert found is not None
    assert found.value == 0.5
    assert quantity.sd_of(found) == pytest.approx(0.5 * math.hypot(0.01, 0.02))


def test_ratio_by_nothing_is_unknown():
    assert quantity.ratio(Quantity(1, 1, 1), Quantity(0, 0, 0)) is None
    assert quantity.ratio(None, Quantity(1, 1, 1)) is None


def test_two_figures_agree_when_their_difference_is_within_both_doubts():
    one = quantity.normal(10.0, 1.0)
    near = quantity.normal(12.7, 1.0)
    far = quantity.normal(12.8, 1.0)
    assert one is not None
    assert near is not None
    assert far is not None
    assert quantity.overlap(one, near)
    assert not quantity.overlap(one, far)


@pytest.mark.parametrize(("half_width", "sd"), [(1.0, 0.05), (1.0, 0.4), (1.0, 1.0), (0.2, 1.0)])
def test_95_per_cent_of_a_rectangle_plus_a_normal_lie_in_its_interval(half_width, sd):
    rng = np.random.default_rng(17)
    off = rng.uniform(-half_width, half_width, 400_000) + rng.normal(0, sd, 400_000)
    found = quantity.rectangular(0.0, half_width, sd)
    assert found is not None
    assert np.mean((off >= found.low) & (off <= found.high)) == pytest.approx(0.95, abs=0.002)


def test_a_bare_rectangle_has_its_own_factor():
    """JCGM 100:2008, 4.3.7 and G.2: a rectangle of half-width a has the deviation a/sqrt(3), and
    95 % of it lie within 1.65 deviations (from memory), not 1.96.
    """
    found = quantity.rectangular(5.0, 0.3, 0.0)
    assert found is not None
    assert (found.high - 5.0) / (0.3 / math.sqrt(3)) == pytest.approx(1.65, abs=0.005)


def test_without_a_rectangle_the_interval_is_the_normals():
    assert quantity.rectangular(5.0, 0.0, 2.0) == quantity.normal(5.0, 2.0)
    assert quantity.rectangular(math.nan, 1.0, 1.0) is None


@pytest.mark.parametrize("sd", [0.1, 3.0, 500.0])
@pytest.mark.parametrize(
    "apart",
    [
        np.repeat([0.0, 2000.0, 6000.0], [300, 224, 500]),
        np.random.default_rng(1).normal(0, 5, 1024),
    ],
    ids=["whole laps", "normal"],
)
def test_a_choice_of_possibilities_leaves_out_a_fortieth_at_either_end(sd, apart):
    """Against a sample of the same mixture, a million draws."""
    rng = np.random.default_rng(2)
    drawn = 10 + rng.choice(apart, 1_000_000) + sd * rng.standard_normal(1_000_000)
    found = quantity.spread(10.0, sd, apart)
    assert np.mean(drawn < found.low) == pytest.approx(0.025, abs=0.001)
    assert np.mean(drawn > found.high) == pytest.approx(0.025, abs=0.001)


def test_possibilities_that_are_all_alike_are_a_normal_doubt():
    assert quantity.spread(10.0, 2.0, np.zeros(5)) == quantity.normal(10.0, 2.0)


def test_a_figure_without_doubt_is_none_unless_it_is_so_by_definition():
    assert quantity.normal(5.0, 0.0) is None
    assert quantity.spread(5.0, 0.0, np.zeros(3)) is None
    assert quantity.exact(0.0) == Quantity(0.0, 0.0, 0.0)


def test_what_lies_wholly_below_its_floor_keeps_a_width():
    found = quantity.normal(-5.0, 1.0, floor=0.0)
    assert found.value == found.low == 0.0 < found.high
