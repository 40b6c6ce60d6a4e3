"""Least squares and model choice against certified and worked values."""

import numpy as np
import pytest
from lazily import lazily

from ebbline.measure.full_throttle.fade import falling
from ebbline.measure.numerics.least_squares import weighted_fit
from ebbline.measure.recharge import phases

sm = lazily("statsmodels.api")
measures = lazily("statsmodels.tools.eval_measures")

# NIST StRD, Norris (ozone monitors); data, b0, b1, their sds and R² read-2nd.
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip


def fitted(columns, y):
    """Our coefficients, their sds by the scatter about the fit, that scatter and what's left."""
    design, y = np.column_stack(columns), np.asarray(y, dtype=float)
    coefficients, covariance = weighted_fit(design, y, np.ones(y.size))
    left = y - design @ coefficients
    scatter = np.sqrt(np.sum(left**2) / (y.size - coefficients.size))
    return coefficients, scatter * np.sqrt(np.diag(covariance)), scatter, left


def test_norris_comes_out_as_certified():
    """Trailing digits of the sds and the residual sd from memory."""
    x, y = np.array(NORRIS_X), np.array(NORRIS_Y)
    coefficients, sds, scatter, left = fitted([np.ones(36), x], y)
    assert coefficients == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert sds == pytest.approx([0.232818234301152, 4.29796848199937e-4], rel=1e-9)
    assert scatter == pytest.approx(0.884796396144373, rel=1e-9)
    explained = 1 - np.sum(left**2) / np.sum((y - y.mean()) ** 2)
    assert explained == pytest.approx(0.999993745883712, rel=1e-12)


@pytest.mark.parametrize(
    ("x", "y", "slope", "slope_sd", "residual_sd", "explained"),
    [
        # NoInt1: read-2nd (two suites).
        (
            range(60, 71),
            range(130, 141),
            2.07438016528926,
            0.0165289256198347,
            3.56753034006338,
            0.999365492298663,
        ),
        # NoInt2: from memory.
        (
            [4, 5, 6],
            [3, 4, 4],
            0.727272727272727,
            0.0420827318078432,
            0.369274472937998,
            0.993348115299335,
        ),
    ],
)
def test_lines_through_the_origin_come_out_as_certified(
    x, y, slope, slope_sd, residual_sd, explained
):
    """NIST StRD NoInt1 and NoInt2: the case of a trip meter since its reset."""
    coefficients, sds, scatter, left = fitted([np.array(x, dtype=float)], y)
    assert coefficients[0] == pytest.approx(slope, rel=1e-12)
    assert sds[0] == pytest.approx(slope_sd, rel=1e-12)
    assert scatter == pytest.approx(residual_sd, rel=1e-12)
    of_all = np.sum(np.array(list(y), dtype=float) ** 2)
    assert 1 - np.sum(left**2) / of_all == pytest.approx(explained, rel=1e-12)


def test_a_calibration_line_and_its_prediction_come_out_as_in_the_guide():
    """JCGM 100:2008, H.3: thermometer, table H.6; data read-2nd, printed answers from memory."""
    shown = np.array(
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    )
    correction = -np.array(
        [0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160]
    )
    design = np.column_stack([np.ones(11), shown - 20])
    coefficients, _, scatter, _ = fitted(design.T, correction)
    assert scatter == pytest.approx(0.0035, abs=5e-5)
    # With the scatter as every reading's sd the covariance needs no scaling afterwards.
    again, covariance = weighted_fit(design, correction, np.full(11, scatter))
    assert again == pytest.approx(coefficients, rel=1e-12)
    assert again == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    u1, u2 = np.sqrt(np.diag(covariance))
    assert (u1, u2) == (pytest.approx(0.0029, abs=5e-5), pytest.approx(0.00067, abs=5e-6))
    assert covariance[0, 1] / (u1 * u2) == pytest.approx(-0.930, abs=5e-4)
    at_30 = np.array([1.0, 10.0])
    assert at_30 @ again == pytest.approx(-0.1494, abs=5e-5)
    assert np.sqrt(at_30 @ covariance @ at_30) == pytest.approx(0.0041, abs=5e-5)


def test_readings_of_unlike_sd_are_weighed_as_statsmodels_weighs_them():
    rng = np.random.default_rng(41)
    sd = rng.uniform(0.2, 3.0, 30)
    design = np.column_stack([np.ones(30), rng.uniform(0, 50, 30)])
    y = design @ [4.0, 1.02] + sd * rng.normal(size=30)
    coefficients, covariance = weighted_fit(design, y, sd)
    theirs = sm.WLS(y, design, weights=1 / sd**2).fit()
    np.testing.assert_allclose(coefficients, theirs.params, rtol=1e-10)
    np.testing.assert_allclose(covariance, theirs.normalized_cov_params, rtol=1e-10)


def test_the_akaike_criterion_is_corrected_as_statsmodels_corrects_it():
    """-2 lnL + 2k + 2k(k+1)/(n-k-1) (Burnham and Anderson 2002, formula from memory).

    Ours leaves out the constant n(1 + ln 2π) of a normal likelihood, and k counts the variance.
    """
    assert measures.aicc(-10, 11, 3) == pytest.approx(29.428571, abs=1e-6)
    n, misfit = 11, 37.0
    log_likelihood = -n / 2 * (np.log(2 * np.pi * misfit / n) + 1)
    for parameters in (2, 3, 5):
        theirs = measures.aicc(log_likelihood, n, parameters) - n * (1 + np.log(2 * np.pi))
        assert phases._aicc(misfit, 0.0, n, parameters) == pytest.approx(theirs, rel=1e-12)


def test_the_fade_follows_fritsch_and_carlsons_data_without_overshoot():
    """RPN14 data of Fritsch and Carlson, SIAM J. Numer. Anal. 17, 1980 (from memory), turned over
    to fall; the values between are SciPy's derivative rule (Fritsch and Butland), so they hold our
    use of it. An ordinary cubic spline leaves the data's range here (-0.00945 to 1.16903).
    """
    x = np.array([7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20])
    f = np.array(
        [0, 2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994]
    )
    everywhere = falling(x, -f, np.ones(9), np.linspace(7.99, 20, 2000))
    assert np.all(np.diff(everywhere) <= 0)
    assert everywhere[0] == 0
    assert everywhere.min() == pytest.approx(-0.999994, abs=1e-12)
    between = falling(x, -f, np.ones(9), np.array([8.4, 9.6, 11, 13.5]))
    assert -between == pytest.approx([0.09666881, 0.76024764, 0.98604336, 0.99960336], abs=1e-8)
