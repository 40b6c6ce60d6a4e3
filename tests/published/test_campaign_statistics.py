"""Random effects, errors in both axes, criteria and tolerance bounds against published values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from lazily import lazily
from published.test_fits import NORRIS_X, NORRIS_Y
from scipy import stats

from ebbline.compare.random_effects import Observed, fit, spread
from ebbline.compare.reserve_model import aicc, akaike_weights
from ebbline.compare.tolerance import cars_needed, median_ranks, normal_factor, rank

sm = lazily("statsmodels.api")
meta_analysis = lazily("statsmodels.stats.meta_analysis")
measures = lazily("statsmodels.tools.eval_measures")
odrpack = lazily("odrpack")

# The BCG vaccine trials (Colditz et al., Journal of the American Medical Association 271 (1994),
# 698-702): treated positive and negative, control positive and negative, absolute latitude. Typed
# from memory; log risk ratios and variances come out as the program below prints them.
TRIALS = np.array([
    [4, 119, 11, 128, 44], [6, 300, 29, 274, 55], [3, 228, 11, 209, 42],
    [62, 13536, 248, 12619, 52], [33, 5036, 47, 5761, 13], [180, 1361, 372, 1079, 44],
    [8, 2537, 10, 619, 19], [505, 87886, 499, 87892, 13], [29, 7470, 45, 7232, 27],
    [17, 1699, 65, 1600, 42], [186, 50448, 141, 27197, 18], [5, 2493, 3, 2338, 33],
    [27, 16886, 29, 17825, 33],
], dtype=float)  # fmt: skip
# What R 4.2.2 with metafor 3.8-1 (Debian's r-cran-metafor) prints for these:
#   d <- escalc(measure="RR", ai=tpos, bi=tneg, ci=cpos, di=cneg, data=dat.bcg)
#   rma(yi, vi, data=d); rma(yi, vi, data=d, test="knha"); confint(rma(yi, vi, data=d))
#   the same with mods=~ablat; fitstats(rma(yi, vi, data=d, method="ML")), and with mods=~ablat


@pytest.fixture(scope="module")
def trials() -> Observed:
    treated, control = TRIALS[:, 0:2], TRIALS[:, 2:4]
    risks = [group[:, 0] / group.sum(axis=1) for group in (treated, control)]
    var = sum(1 / group[:, 0] - 1 / group.sum(axis=1) for group in (treated, control))
    found = Observed.measured(np.log(risks[0] / risks[1]), var)
    assert found.value[0] == pytest.approx(-0.88931133392, abs=1e-10)
    assert found.var[12] == pytest.approx(0.071404659684, abs=1e-11)
    return found


ALONE = np.ones((13, 1))
BY_LATITUDE = np.column_stack([np.ones(13), TRIALS[:, 4]])


def test_random_effects_by_restricted_likelihood(trials):
    line = fit(trials, ALONE)
    assert line.spread_var == pytest.approx(0.3132433260, rel=1e-4)
    mean = line.coefficient(0)
    assert mean.value == pytest.approx(-0.7145323484, abs=1e-6)
    # with test="knha"
    assert math.sqrt(line.covariance[0, 0]) == pytest.approx(0.1807917455, abs=1e-6)
    assert (mean.low, mean.high) == pytest.approx((-1.108443723, -0.3206209737), abs=1e-6)


def test_meta_regression_by_restricted_likelihood(trials):
    line = fit(trials, BY_LATITUDE)
    assert line.spread_var == pytest.approx(0.07635469471, rel=2e-4)  # it stops at 1e-5
    assert line.coefficients == pytest.approx([0.25146429437, -0.02910166093], rel=5e-5)
    sds = np.sqrt(np.diag(line.covariance))
    assert sds == pytest.approx([0.283930037419, 0.008201541796], rel=5e-5)
    slope = line.coefficient(1)
    assert (slope.low, slope.high) == pytest.approx((-0.04715313271, -0.01105018915), rel=5e-5)


def test_interval_of_the_spread_by_the_restricted_profile(trials):
    """Where logLik(rma(yi, vi, data=d, tau2=t^2)) lies below that of rma(yi, vi, data=d) by
    qchisq(.95, 1)/2 times f*(log(f/2) - digamma(f/2)), f 12 and by latitude 11, by uniroot.
    """
    for design, printed in (
        (ALONE, (0.55968139, 0.33727960, 0.99044880)),
        (BY_LATITUDE, (0.27631135, 0.07396885, 0.67384492)),
    ):
        found = spread(trials, design, None, math.sqrt(fit(trials, design).spread_var))
        assert (found.value, found.low, found.high) == pytest.approx(printed, rel=1e-4)


@pytest.mark.parametrize(
    ("design", "tau2", "log_likelihood", "criterion"),
    [
        (ALONE, 0.280028171, -12.66507635, 30.53015270),
        (BY_LATITUDE, 0.03435895747, -7.685665546, 24.037997758),
    ],
)
def test_plain_likelihood_and_its_criterion(trials, design, tau2, log_likelihood, criterion):
    line = fit(trials, design, restricted=False)
    assert line.spread_var == pytest.approx(tau2, rel=3e-4)
    assert line.log_likelihood == pytest.approx(log_likelihood, abs=1e-6)
    assert aicc(line.log_likelihood, 13, design.shape[1] + 1) == pytest.approx(criterion, abs=1e-6)


def test_random_effects_have_a_second_opinion(trials):
    """With the spread that DerSimonian and Laird's moments give, statsmodels 0.14 and we agree on
    the mean; metafor's -0.7141 for it is from memory.
    """
    second = meta_analysis.combine_effects(trials.value, trials.var, method_re="chi2", use_t=False)
    known = Observed.measured(trials.value, trials.var + second.tau2)
    weights = 1 / known.var
    assert second.mean_effect_re == pytest.approx(-0.7141, abs=5e-5)
    assert np.sum(weights * trials.value) / np.sum(weights) == pytest.approx(second.mean_effect_re)


# Pearson's ten points with York's weights (D. York, Canadian Journal of Physics 44 (1966),
# 1079-1086, and York et al., American Journal of Physics 72 (2004), 367-375); from memory.
PEARSON_X = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WEIGHTS_X = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
WEIGHTS_Y = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def yorks_line():
    """York's points have no spread of their own: it is held at nothing."""
    design = np.column_stack([np.ones(10), PEARSON_X])
    var = np.column_stack([np.zeros(10), 1 / WEIGHTS_X])
    return fit(Observed.measured(PEARSON_Y, 1 / WEIGHTS_Y), design, var, spread_var=0.0)


def test_errors_in_both_axes_give_yorks_line():
    """Slope -0.4805, intercept 5.4799, S 11.866, errors 0.058 and 0.295."""
    line = yorks_line()
    assert line.coefficients == pytest.approx([5.479910, -0.480533], abs=1e-6)
    inflation = 11.866353 / 8  # Knapp and Hartung's factor is his S/(n - 2)
    assert np.sqrt(np.diag(line.covariance) / inflation) == pytest.approx([0.295, 0.058], abs=5e-4)


def test_orthogonal_distances_have_a_second_opinion():
    """ODRPACK minimises the same sum (odrpack, which took the place of scipy.odr)."""
    second = odrpack.odr_fit(
        lambda x, beta: beta[0] + beta[1] * x, PEARSON_X, PEARSON_Y,
        np.array([5.0, -0.5]), weight_x=WEIGHTS_X, weight_y=WEIGHTS_Y,
        sstol=1e-15, partol=1e-12, maxit=500,
    )  # fmt: skip
    assert yorks_line().coefficients == pytest.approx(second.beta, rel=1e-6)


# NIST StRD: equal errors and no spread give ordinary least squares, and Knapp and Hartung's factor
# makes the errors those by the scatter about the line, which are certified.
LONGLEY_Y = [
    60323, 61122, 60171, 61187, 63221, 63639, 64989, 63761,
    66019, 67857, 68169, 66513, 68655, 69564, 69331, 70551,
]  # fmt: skip
LONGLEY_X = [
    [83.0, 234289, 2356, 1590, 107608, 1947], [88.5, 259426, 2325, 1456, 108632, 1948],
    [88.2, 258054, 3682, 1616, 109773, 1949], [89.5, 284599, 3351, 1650, 110929, 1950],
    [96.2, 328975, 2099, 3099, 112075, 1951], [98.1, 346999, 1932, 3594, 113270, 1952],
    [99.0, 365385, 1870, 3547, 115094, 1953], [100.0, 363112, 3578, 3350, 116219, 1954],
    [101.2, 397469, 2904, 3048, 117388, 1955], [104.6, 419180, 2822, 2857, 118734, 1956],
    [108.4, 442769, 2936, 2798, 120445, 1957], [110.8, 444546, 4681, 2637, 121950, 1958],
    [112.6, 482704, 3813, 2552, 123366, 1959], [114.2, 502601, 3931, 2514, 125368, 1960],
    [115.7, 518173, 4806, 2572, 127852, 1961], [116.9, 554894, 4007, 2827, 130081, 1962],
]  # fmt: skip


@pytest.mark.parametrize(
    ("columns", "y", "coefficients", "sds"),
    [
        pytest.param(
            np.column_stack([np.ones(36), NORRIS_X]),
            NORRIS_Y,
            [-0.262323073774029, 1.00211681802045],
            [0.232818234301152, 0.429796848199937e-03],
            id="Norris",
        ),
        pytest.param(
            np.arange(60.0, 71.0)[:, None],
            np.arange(130.0, 141.0),
            [2.07438016528926],
            [0.165289256198347e-01],
            id="NoInt1",
        ),
        pytest.param(
            np.column_stack([np.ones(16), LONGLEY_X]),
            LONGLEY_Y,
            # certified values from memory; statsmodels carries the data, see below
            [-3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683,
             -1.03322686717359, -0.511041056535807e-01, 1829.15146461355],
            [890420.383607373, 84.9149257747669, 0.334910077722432e-01, 0.488399681651699,
             0.214274163161675, 0.226073200069370, 455.478499142212],
            id="Longley",
        ),
    ],
)  # fmt: skip
def test_lines_come_out_as_certified(columns, y, coefficients, sds):
    y = np.asarray(y, dtype=float)
    line = fit(Observed.measured(y, np.ones(y.size)), columns, spread_var=0.0)
    assert line.coefficients == pytest.approx(coefficients, rel=1e-7)
    assert np.sqrt(np.diag(line.covariance)) == pytest.approx(sds, rel=1e-7)


def test_longley_is_typed_as_statsmodels_has_it():
    data = sm.datasets.longley.load_pandas()
    assert data.exog.to_numpy() == pytest.approx(np.array(LONGLEY_X))
    assert data.endog.to_numpy() == pytest.approx(np.array(LONGLEY_Y))


def test_criterion_has_a_second_opinion():
    assert aicc(-10.0, 11, 3) == pytest.approx(measures.aicc(-10.0, 11, 3))
    assert aicc(-10.0, 11, 3) == pytest.approx(29.428571, abs=1e-6)


def test_weights_of_a_worked_example():
    """Differences 0, 2, 7, 10 of a criterion weigh 1, e⁻¹, e⁻³·⁵, e⁻⁵ over their sum
    1.404814, by hand (Burnham and Anderson, 2002, 2.9, has the formula;
    from memory).
    """
    found = akaike_weights([100.0, 102.0, 107.0, 110.0])
    assert found == pytest.approx([0.71184, 0.26187, 0.02150, 0.00480], abs=5e-5)


@pytest.mark.parametrize(
    ("share", "confidence", "n"),
    [(0.90, 0.90, 22), (0.90, 0.95, 29), (0.95, 0.90, 45), (0.95, 0.95, 59), (0.99, 0.95, 299)],
)
def test_wilks_sample_sizes(share, confidence, n):
    """S. S. Wilks, Annals of Mathematical Statistics 12 (1941), 91-96: 1 - pⁿ >= c; from memory."""
    assert cars_needed(share, confidence) == n
    assert rank(n, share, confidence) == 1
    assert rank(n - 1, share, confidence) == 0


def test_wilks_second_order():
    """93 for the second least at 95/95: common in reactor safety, from memory."""
    assert (rank(92, 0.95, 0.95), rank(93, 0.95, 0.95)) == (1, 2)


def test_normal_tolerance_factor_of_the_handbook():
    """NIST/SEMATECH e-Handbook 7.2.6.3, n 43, p 0.90, confidence 0.99: it prints 1.8752 by an
    approximation and 1.8740 exactly; both from memory.
    """
    assert normal_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=5e-5)
    second = stats.nct(9, stats.norm.ppf(0.95) * math.sqrt(10)).ppf(0.90) / math.sqrt(10)
    assert normal_factor(10, 0.95, 0.90) == pytest.approx(second, rel=1e-7)
    assert second == pytest.approx(2.56837, abs=1e-5)


def test_interval_of_a_median():
    """Sign test's table: of 6 the extremes, of 9 the second from either end, of 20 the sixth; from
    memory, and by the binomial distribution.
    """
    assert median_ranks(5) is None
    for n, k in ((6, 1), (9, 2), (20, 6)):
        assert median_ranks(n) == (k, n + 1 - k)
        assert stats.binom(n, 0.5).cdf(k - 1) <= 0.025 < stats.binom(n, 0.5).cdf(k)
