"""The banded smoother against statsmodels' own Kalman smoother, and against the Nile's level.

Two independent routes to one posterior: statsmodels filters and smooths recursively with an
exact diffuse start, ours solves one banded system. Source: statsmodels (ran). The state space
is written out here from the model's description, not taken from our code.
"""

from dataclasses import replace

import numpy as np
import pytest
from lazily import lazily

from ebbline.measure.track.kalman_smoother import STATES, MotionModel, Observations, smooth

sm = lazily("statsmodels.api")
initialization = lazily("statsmodels.tsa.statespace.initialization")
kalman_smoother = lazily("statsmodels.tsa.statespace.kalman_smoother")

MODEL = MotionModel(q_m2_per_s3=1.2, white_m=1.0, drift_m=3.0, doppler_mps=0.15, drift_s=60.0)
OTHER = MotionModel(q_m2_per_s3=0.4, white_m=2.0, drift_m=1.5, doppler_mps=0.30, drift_s=60.0)
FIXES = 80


def even_fixes():
    return some_fixes(np.ones(FIXES - 1), np.ones(FIXES), np.ones(FIXES, dtype=bool))


def uneven_fixes():
    """Steps from 0.1 to 7.3 s, fixes of unlike quality, two in five without a Doppler speed."""
    rng = np.random.default_rng(20)
    seen = rng.random(FIXES) < 0.6
    seen[0] = True
    steps = rng.choice([0.1, 0.5, 1.0, 3.0, 7.3], FIXES - 1)
    return some_fixes(steps, rng.uniform(0.5, 3.0, FIXES), seen)


def some_fixes(step_s, spread, seen):
    rng = np.random.default_rng(21)
    t_s = np.concatenate([[0.0], np.cumsum(step_s)])
    velocity_mps = rng.normal(20.0, 1.0, (FIXES, 2))
    velocity_mps[~seen] = np.nan
    return Observations(
        t_s=t_s,
        position_m=np.cumsum(rng.normal(0, 3.0, (FIXES, 2)), axis=0) + t_s[:, None],
        spread=spread,
        velocity_mps=velocity_mps,
        velocity_sd_mps=np.full(FIXES, MODEL.doppler_mps),
    )


def by_statsmodels(observations, model, axis):
    """Position, velocity and drift of one axis by statsmodels, matrices varying in time."""
    n = observations.t_s.size
    # The last transition leads out of the record and changes nothing within it.
    step_s = np.append(np.diff(observations.t_s), 1.0)
    kept = np.exp(-step_s / model.drift_s)
    transition = np.zeros((STATES, STATES, n))
    transition[0, 0] = transition[1, 1] = 1.0
    transition[0, 1] = step_s
    transition[2, 2] = kept
    state_cov = np.zeros((STATES, STATES, n))
    state_cov[0, 0] = model.q_m2_per_s3 * step_s**3 / 3
    state_cov[0, 1] = state_cov[1, 0] = model.q_m2_per_s3 * step_s**2 / 2
    state_cov[1, 1] = model.q_m2_per_s3 * step_s
    state_cov[2, 2] = model.drift_m**2 * (1 - kept**2)
    obs_cov = np.zeros((2, 2, n))
    obs_cov[0, 0] = (model.white_m * observations.spread) ** 2
    obs_cov[1, 1] = observations.velocity_sd_mps**2

    kalman = kalman_smoother.KalmanSmoother(k_endog=2, k_states=STATES, k_posdef=STATES)
    kalman.bind(
        np.column_stack([observations.position_m[:, axis], observations.velocity_mps[:, axis]])
    )
    kalman["design"] = np.array([[1.0, 0.0, 1.0], [0.0, 1.0, 0.0]])
    kalman["selection"] = np.eye(STATES)
    kalman["transition"], kalman["state_cov"], kalman["obs_cov"] = transition, state_cov, obs_cov
    start = initialization.Initialization(STATES)
    start.set((0, 2), "diffuse")
    start.set(2, "known", constant=np.zeros(1), stationary_cov=np.array([[model.drift_m**2]]))
    kalman.initialization = start
    kalman.set_filter_method(filter_univariate=True)
    return kalman.smooth()


def with_model(observations, model):
    return replace(observations, velocity_sd_mps=np.full(FIXES, model.doppler_mps))


def our_covariance(smoothed):
    """The whole posterior covariance of one axis, (n, STATES, n, STATES)."""
    unit = np.eye(FIXES * STATES).reshape(FIXES, STATES, FIXES * STATES)
    return smoothed.solve(unit).reshape(FIXES, STATES, FIXES, STATES)


@pytest.mark.parametrize("fixes", [even_fixes, uneven_fixes])
@pytest.mark.parametrize("axis", [0, 1])
def test_states_and_their_covariances_are_those_of_statsmodels(fixes, axis):
    observations = fixes()
    ours, theirs = smooth(observations, MODEL), by_statsmodels(observations, MODEL, axis)
    states = [ours.position_m[:, axis], ours.velocity_mps[:, axis], ours.drift_m[:, axis]]
    np.testing.assert_allclose(np.array(states), theirs.smoothed_state, rtol=0, atol=1e-6)
    covariance = our_covariance(ours)
    own = np.stack([covariance[k, :, k, :] for k in range(FIXES)], axis=-1)
    np.testing.assert_allclose(own, theirs.smoothed_state_cov, rtol=0, atol=1e-6)


@pytest.mark.parametrize("fixes", [even_fixes, uneven_fixes])
def test_a_model_is_likelier_than_another_by_as_much_as_statsmodels_says(fixes):
    """Constants of the diffuse start cancel in the difference."""
    observations = fixes()
    ours = advantage(observations, MODEL, OTHER)
    assert ours == pytest.approx(their_advantage(observations, MODEL, OTHER), abs=1e-6)


@pytest.mark.parametrize(
    "fixes",
    [
        even_fixes,
        uneven_fixes,
    ],
)
def test_the_likelihood_keeps_its_digits_over_kilometres(fixes):
    """A receiver good to a centimetre, on a straight road of kilometres."""
    rng = np.random.default_rng(22)
    near = fixes()
    position_m = 20 * near.t_s[:, None] + rng.normal(0, 0.01, (FIXES, 2))
    observations = replace(near, position_m=position_m)
    good = replace(MODEL, white_m=0.01, drift_m=0.02)
    better = replace(MODEL, white_m=0.008, drift_m=0.02)
    ours = advantage(observations, good, better)
    assert ours == pytest.approx(their_advantage(observations, good, better), abs=1e-3)


def advantage(observations, one, other):
    """How much likelier one model is than another, as minus twice the logarithm."""
    of_one = smooth(with_model(observations, one), one).minus_2_log_likelihood
    return of_one - smooth(with_model(observations, other), other).minus_2_log_likelihood


def their_advantage(observations, one, other):
    return -2 * sum(
        by_statsmodels(with_model(observations, one), one, axis).llf
        - by_statsmodels(with_model(observations, other), other, axis).llf
        for axis in (0, 1)
    )


def test_what_neighbouring_moments_share_is_the_inverse_of_the_written_out_information():
    """The covariance between moments, which a distance's doubt lives on.

    Independent route: prior and observations stacked as rows of one dense least-squares problem,
    whose normal matrix is inverted (any text on least squares).
    """
    observations = uneven_fixes()
    rows = []
    for k, step_s in enumerate(np.diff(observations.t_s)):
        kept = np.exp(-step_s / MODEL.drift_s)
        motion = MODEL.q_m2_per_s3 * np.array(
            [[step_s**3 / 3, step_s**2 / 2], [step_s**2 / 2, step_s]]
        )
        root = np.linalg.inv(np.linalg.cholesky(motion))
        moved = np.zeros((2, FIXES, STATES))
        moved[:, k + 1, :2] = root
        moved[:, k, :2] = -root @ np.array([[1.0, step_s], [0.0, 1.0]])
        drifted = np.zeros((1, FIXES, STATES))
        drifted[0, k + 1, 2] = 1.0
        drifted[0, k, 2] = -kept
        rows += [moved, drifted / (MODEL.drift_m * np.sqrt(1 - kept**2))]
    first = np.zeros((1, FIXES, STATES))
    first[0, 0, 2] = 1 / MODEL.drift_m
    rows.append(first)
    for k in range(FIXES):
        seen = np.zeros((1, FIXES, STATES))
        seen[0, k, [0, 2]] = 1 / (MODEL.white_m * observations.spread[k])
        rows.append(seen)
        if np.isfinite(observations.velocity_mps[k, 0]):
            paced = np.zeros((1, FIXES, STATES))
            paced[0, k, 1] = 1 / MODEL.doppler_mps
            rows.append(paced)
    stacked = np.concatenate(rows).reshape(-1, FIXES * STATES)
    dense = np.linalg.inv(stacked.T @ stacked)
    ours = our_covariance(smooth(observations, MODEL)).reshape(dense.shape)
    np.testing.assert_allclose(ours, dense, rtol=0, atol=1e-6)
    assert np.max(np.abs(dense[: STATES * 40, STATES * 40 :])) > 1  # something is shared


@pytest.mark.parametrize(
    ("step_s", "model", "with_speeds"),
    [
        (1.0, MODEL, True),
        (1.0, MODEL, False),
        (0.1, MODEL, True),
        (0.1, replace(MODEL, q_m2_per_s3=0.05, white_m=3.0, drift_m=5.0), False),
    ],
)
def test_a_speed_is_as_unsure_as_statsmodels_says(step_s, model, with_speeds):
    """To 6 %, as ours looks only so far around a fix; without ten fixes a second, to 0.1 %.

    The variance of a velocity depends on no observed value, so zeros will do.
    """
    fixes = 1200
    observations = Observations(
        t_s=step_s * np.arange(fixes),
        position_m=np.zeros((fixes, 2)),
        spread=np.ones(fixes),
        velocity_mps=np.full((fixes, 2), 0.0 if with_speeds else np.nan),
        velocity_sd_mps=np.full(fixes, model.doppler_mps),
    )
    at = np.array([0, 5, 600, fixes - 1])
    theirs = by_statsmodels(observations, model, 0).smoothed_state_cov[1, 1, at]
    ours = np.sqrt(smooth(observations, model).velocity_var(at)[0])
    np.testing.assert_allclose(ours, np.sqrt(theirs), rtol=0.001 if step_s == 1 else 0.06)


def test_the_cars_part_of_a_speeds_doubt_is_what_grows_with_its_acceleration():
    """With A = M/q + the rest and C its inverse, dC/d(ln q) = C (M/q) C."""
    rng = np.random.default_rng(8)
    fixes = 40
    observations = Observations(
        t_s=np.cumsum(rng.uniform(0.5, 8.0, fixes)),
        position_m=np.zeros((fixes, 2)),
        spread=np.ones(fixes),
        velocity_mps=np.full((fixes, 2), np.nan),
        velocity_sd_mps=np.ones(fixes),
    )
    model = MotionModel(q_m2_per_s3=2.0, white_m=1.0, drift_m=3.0, doppler_mps=0.1)
    at = np.arange(fixes)
    whole, driven = smooth(observations, model).velocity_var(at)
    more, less = (
        smooth(observations, replace(model, q_m2_per_s3=2.0 * np.exp(step))).velocity_var(at)[0]
        for step in (1e-4, -1e-4)
    )
    np.testing.assert_allclose(driven, (more - less) / 2e-4, rtol=1e-5)
    assert np.all(driven < whole)


def test_the_level_of_the_nile_comes_out_as_from_statsmodels():
    """Durbin and Koopman's local level with variances 15099 and 1469.1 (parameters from memory).

    Our model becomes a local level when the position is held and the drift never returns: its
    variance over its time constant is then the level's. What is left of the return (1e-8 a step)
    costs less than 1e-3. The level's values: statsmodels with an exact diffuse start (ran), and
    to five decimals 1111.66832, 834.76326, 798.37029.
    """
    volume = sm.datasets.nile.load_pandas().data["volume"].to_numpy()
    years = volume.size
    drift_s = 1e8
    model = MotionModel(
        q_m2_per_s3=1e-2,
        white_m=np.sqrt(15099.0),
        drift_m=np.sqrt(1469.1 * drift_s / 2),
        doppler_mps=1e-2,
        drift_s=drift_s,
    )
    ours = smooth(
        Observations(
            t_s=np.arange(float(years)),
            position_m=np.column_stack([volume, volume]),
            spread=np.ones(years),
            velocity_mps=np.zeros((years, 2)),
            velocity_sd_mps=np.full(years, 1e-2),
        ),
        model,
    )
    level = ours.position_m[:, 0] + ours.drift_m[:, 0]
    published = sm.tsa.UnobservedComponents(volume, "llevel", use_exact_diffuse=True)
    theirs = published.smooth([15099.0, 1469.1])
    np.testing.assert_allclose(level, theirs.smoothed_state[0], rtol=0, atol=1e-3)
    np.testing.assert_allclose(
        level[[0, 49, 99]], [1111.66832, 834.76326, 798.37029], rtol=0, atol=1e-3
    )
    at = np.array([0, 49, 99])
    level_at = np.zeros((years, STATES, at.size))
    for column, year in enumerate(at):
        level_at[year, [0, 2], column] = 1.0
    shared = ours.solve(level_at)
    variance = shared[at, 0, np.arange(3)] + shared[at, 2, np.arange(3)]
    np.testing.assert_allclose(variance, theirs.smoothed_state_cov[0, 0, at], rtol=1e-6)
