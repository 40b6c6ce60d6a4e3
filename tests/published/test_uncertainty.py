"""Propagation against the Guide's worked examples (JCGM 100:2008) and the uncertainties package."""

import math

import numpy as np
import pytest
import uncertainties
from scipy.stats import norm, uniform
from uncertainties import umath

from ebbline.measure import quantity
from ebbline.measure.display import interval_of
from ebbline.records.evidence import Reading


def test_an_interval_reaches_as_far_as_the_normal_distribution_says():
    figure = quantity.normal(10.0, 2.0)
    assert (figure.low, figure.high) == pytest.approx(norm.interval(0.95, 10, 2), abs=1e-5)
    assert quantity.sd_of(figure) == pytest.approx(2.0, rel=1e-12)


def test_the_end_gauge_comes_out_as_in_the_guide():
    """H.1, first order: 50.000838 mm and 32 nm (read-2nd); inputs in nm, K and 1/K."""
    standard = uncertainties.ufloat(50000623, 25)
    difference = uncertainties.ufloat(215, 9.7)
    expansion = uncertainties.ufloat(11.5e-6, 1.2e-6)
    expansion_apart = uncertainties.ufloat(0, 0.58e-6)
    warmth = uncertainties.ufloat(-0.1, 0.41)
    warmth_apart = uncertainties.ufloat(0, 0.029)
    gauge = standard + difference - standard * (expansion_apart * warmth + expansion * warmth_apart)
    assert gauge.n == pytest.approx(50000838, abs=0.5)
    assert gauge.s == pytest.approx(32, abs=0.5)
    # Ours adds the same independent parts as a root of squares.
    parts = [25, 9.7, 50000623 * 0.1 * 0.58e-6, 50000623 * 11.5e-6 * 0.029]
    ours = quantity.normal(50000838, math.hypot(*parts))
    assert quantity.sd_of(ours) == pytest.approx(gauge.s, rel=1e-6)


def test_resistance_and_reactance_come_out_as_in_the_guide():
    """H.2, correlated readings; published figures from memory, u(X) to 0.001 (see SOURCES.md)."""
    readings = np.array(
        [
            [5.007, 4.994, 5.005, 4.990, 4.999],
            [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
            [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
        ]
    )
    volt, ampere, phase = uncertainties.correlated_values(
        readings.mean(axis=1), np.cov(readings) / 5
    )
    resistance = volt / ampere * umath.cos(phase)
    reactance = volt / ampere * umath.sin(phase)
    impedance = volt / ampere
    for figure, value, sd in (
        (resistance, 127.732, 0.071),
        (reactance, 219.847, 0.295),
        (impedance, 254.260, 0.236),
    ):
        assert figure.n == pytest.approx(value, abs=1e-3)
        assert figure.s == pytest.approx(sd, abs=1e-3)
    shared = uncertainties.correlation_matrix([resistance, reactance, impedance])
    assert shared[np.triu_indices(3, 1)] == pytest.approx([-0.588, -0.485, 0.993], abs=1e-3)
    # Ours takes numerator and denominator as independent, so only that ratio can agree.
    apart = uncertainties.ufloat(volt.n, volt.s) / uncertainties.ufloat(ampere.n, ampere.s)
    ours = quantity.ratio(quantity.normal(volt.n, volt.s), quantity.normal(ampere.n, ampere.s))
    assert ours.value == pytest.approx(apart.n, rel=1e-12)
    assert quantity.sd_of(ours) == pytest.approx(apart.s, rel=1e-9)


def test_a_ratio_of_energy_and_distance_is_propagated_as_by_the_package():
    energy, distance = uncertainties.ufloat(1.43, 0.06), uncertainties.ufloat(9.7, 0.02)
    ours = quantity.ratio(quantity.normal(1.43, 0.06), quantity.normal(9.7, 0.02))
    assert ours.value == pytest.approx((energy / distance).n, rel=1e-12)
    assert quantity.sd_of(ours) == pytest.approx((energy / distance).s, rel=1e-9)


@pytest.mark.parametrize("rounding", ["nearest", "down"])
def test_a_display_leaves_its_step_over_the_root_of_twelve_in_doubt(rounding):
    """F.2.2.1 and 4.3.7 (clause numbers from memory): 0.288675 of a step, 0.408248 for two."""
    reading = Reading("r", "d", 0, "trip_energy", 7.3, "kWh", resolution=0.1, rounding=rounding)
    low, high = interval_of(reading)
    sd = uniform(low, high - low).std()
    assert sd == pytest.approx(0.1 * 0.288675, abs=1e-7)
    assert math.hypot(sd, sd) == pytest.approx(0.1 * 0.408248, abs=1e-7)
    middle = (low + high) / 2
    assert middle == pytest.approx(7.3 if rounding == "nearest" else 7.35, abs=1e-12)


def test_every_truth_lies_in_the_interval_of_what_the_display_shows():
    rng = np.random.default_rng(42)
    truths = rng.uniform(0, 20, 500)
    for truth in truths:
        for rounding, value in (
            ("nearest", round(truth / 0.1) * 0.1),
            ("down", math.floor(truth / 0.1) * 0.1),
        ):
            reading = Reading("r", "d", 0, "trip_energy", value, "kWh", 0.1, rounding)
            low, high = interval_of(reading)
            assert low - 1e-9 <= truth <= high + 1e-9


def test_two_figures_agree_as_often_as_95_per_cent_asks():
    rng = np.random.default_rng(43)
    pairs = rng.normal(0, [3.0, 4.0], (4000, 2))
    agreed = [
        quantity.overlap(quantity.normal(one, 3.0), quantity.normal(other, 4.0))
        for one, other in pairs
    ]
    assert np.mean(agreed) == pytest.approx(0.95, abs=0.011)  # three standard errors
