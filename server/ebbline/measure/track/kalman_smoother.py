"""Kalman smoother: position, velocity and receiver drift estimated together, one banded system.

Model, per axis: the car's acceleration is white noise of density ``q`` (constant-velocity
model); the receiver's position error is a first-order Gauss-Markov drift of standard deviation
``drift_m`` and time constant ``drift_s`` plus white noise; Doppler velocity has white noise.
The maximum of the posterior solves a symmetric positive-definite system with half-bandwidth 5,
so time and memory grow linearly with the number of fixes. Both axes share the matrix.

Source of the method: a Rauch-Tung-Striebel smoother gives the same estimate; the information
form is e.g. in Särkkä, Bayesian Filtering and Smoothing, ch. 8 and Barfoot, State Estimation
for Robotics, ch. 3 (from memory). tests/published holds it against statsmodels.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.linalg import LinAlgError, cho_solve_banded, cholesky_banded, solveh_banded

from ebbline.errors import MeasureError
from ebbline.records.arrays import FloatArray, IntArray

STATES = 3  # position, velocity, drift
_P, _V, _B = range(STATES)
_UPPER = 2 * STATES - 1
_AROUND = 300  # fixes on either side that can tell anything about a velocity
# Double precision can't hold what a fix says of its place beside a link to the next one that is
# more than about 1e15 times as stiff: the matrix would no longer be positive definite. This is
# held at a tenth of that.
_LEAST_SHARE = 1e-14
# What is added to its diagonal, each after the other, where it is so all the same.
_MENDING_SHARES = (1e-14, 1e-13, 1e-12, 1e-11, 1e-10)


@dataclass(frozen=True, slots=True)
class MotionModel:
    """The four noise figures of the model and the drift's time constant."""

    q_m2_per_s3: float  # spectral density of the car's acceleration
    white_m: float  # white part of the position error, 1-sigma per axis
    drift_m: float  # correlated part of the position error, 1-sigma per axis
    doppler_mps: float  # velocity error, 1-sigma per axis
    drift_s: float = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """What the smoother sees, one row per fix.

    ``t_s`` (n,) strictly increasing; ``position_m`` (n, 2) east and north; ``spread`` (n,)
    factor on the white position noise (1 is an ordinary fix, large one to distrust);
    ``velocity_mps`` (n, 2) NaN where not observed; ``velocity_sd_mps`` (n,).
    """

    t_s: FloatArray
    position_m: FloatArray
    spread: FloatArray
    velocity_mps: FloatArray
    velocity_sd_mps: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Smoothed:
    """The estimate at the fixes: (n, 2) each; the system's matrix and factor, banded; the steps
    (n-1,) between the fixes and the density of the acceleration that was taken for each.
    ``known_var``: variances of velocities by fix, as ``velocity_var`` has worked them out so far;
    many figures ask for the same ones.
    """

    position_m: FloatArray
    velocity_mps: FloatArray
    drift_m: FloatArray
    information: FloatArray
    factor: FloatArray
    step_s: FloatArray
    q_m2_per_s3: FloatArray
    minus_2_log_likelihood: float
    known_var: dict[int, tuple[float, float]] = field(default_factory=dict)

    def solve(self, functionals: FloatArray) -> FloatArray:
        """Posterior covariance of every state with k linear functionals of one axis.

        ``functionals`` (n, STATES, k) weighs position, velocity and drift; same shape back.
        """
        n, states, k = functionals.shape
        flat = functionals.reshape(n * states, k)
        solved = cho_solve_banded((self.factor, False), flat, check_finite=False)
        return np.asarray(solved).reshape(n, states, k)

    def velocity_var(self, fixes: IntArray) -> tuple[FloatArray, FloatArray]:
        """Variance (k,) of the velocity at fixes (k,), the same along both axes: all of it, and the
        part of it that the car's acceleration makes; the rest is the receiver's.

        From the fixes around each: what lies further off adds nothing to a velocity. With C the
        covariance of the states and M what the motion adds to the matrix, the part is that of
        C M C, the estimate's error under the car's acceleration alone.
        """
        for fix in {int(fix) for fix in fixes} - self.known_var.keys():
            self.known_var[fix] = self._velocity_var(fix)
        both = np.array([self.known_var[int(fix)] for fix in fixes]).reshape(-1, 2)
        return both[:, 0], both[:, 1]

    def _velocity_var(self, fix: int) -> tuple[float, float]:
        first, last = max(fix - _AROUND, 0), min(fix + _AROUND + 1, self.position_m.shape[0])
        unit = np.zeros((last - first) * STATES)
        unit[(fix - first) * STATES + _V] = 1.0
        local = self.information[:, first * STATES : last * STATES]
        shared = solveh_banded(local, unit, check_finite=False)
        driven = self._accelerated(shared.reshape(-1, STATES), slice(first, last - 1))
        return float(shared @ unit), driven

    def _accelerated(self, states: FloatArray, steps: slice) -> float:
        """Squares of what states (m, STATES) of one axis need of acceleration, by its variance."""
        h = self.step_s[steps]
        strayed = np.diff(states[:, _P]) - h * states[:-1, _V]
        changed = np.diff(states[:, _V])
        motion = 12 * strayed**2 / h**3 - 12 * strayed * changed / h**2 + 4 * changed**2 / h
        return float(np.sum(motion / self.q_m2_per_s3[steps]))


def smooth(observations: Observations, model: MotionModel) -> Smoothed:
    """Solve for the whole track at once.

    Raises:
        MeasureError: fewer than two fixes, or times that don't strictly increase.
    """
    step_s = np.diff(observations.t_s)
    if observations.t_s.size < 2:
        raise MeasureError(f"a track needs 2 fixes, have {observations.t_s.size}")
    if np.any(step_s <= 0):
        raise MeasureError("fix times must strictly increase")

    n = observations.t_s.size
    system = _System(n)
    easing = _easing(step_s, observations.spread, model)
    log_det = _add_motion(system, step_s, easing, model)
    right = np.zeros((n, STATES, 2))
    log_det_r = _add_observations(system, right, observations, model)
    factor = _factored(system)
    flat = right.reshape(n * STATES, 2)
    solution = cho_solve_banded((factor, False), flat, check_finite=False)
    log_det_a = 2 * float(np.sum(np.log(factor[-1])))
    states = solution.reshape(n, STATES, 2)
    return Smoothed(
        position_m=states[:, _P],
        velocity_mps=states[:, _V],
        drift_m=states[:, _B],
        information=system.banded,
        factor=factor,
        step_s=step_s,
        q_m2_per_s3=np.broadcast_to(model.q_m2_per_s3 * easing, step_s.shape),
        minus_2_log_likelihood=(
            2 * (log_det + log_det_a)
            + log_det_r
            + _misfit(states, step_s, easing, observations, model)
        ),
    )


class _System:
    """The matrix in LAPACK's upper banded storage, addressed by states of one fix or two."""

    def __init__(self, n: int) -> None:
        self.banded = np.zeros((_UPPER + 1, n * STATES))

    def within(self, row: int, column: int) -> FloatArray:
        """Entries (n,) between two states of the same fix, row not after column."""
        return self.banded[_UPPER - (column - row), column::STATES]

    def onward(self, row: int, column: int) -> FloatArray:
        """Entries (n-1,) between a state of each fix and one of the next."""
        return self.banded[_UPPER - (STATES + column - row), STATES + column :: STATES]


def _factored(system: _System) -> FloatArray:
    """The matrix's Cholesky factor.

    Where steps of a millisecond stand beside steps of years, and neighbours lie half the globe
    apart, rounding alone can leave it indefinite: then its diagonal grows by as little as mends it.

    Raises:
        MeasureError: nothing that little mends it.
    """
    for share in (0.0, *_MENDING_SHARES):
        system.banded[_UPPER] *= 1 + share
        try:
            return np.asarray(cholesky_banded(system.banded, check_finite=False))
        except LinAlgError:
            continue
    raise MeasureError("the positions are too far apart, for the times between them, to be joined")


def _easing(step_s: FloatArray, spread: FloatArray, model: MotionModel) -> FloatArray:
    """Factors (n-1,), at least 1, on q that keep each step no stiffer than the system can hold.

    They are 1 but where fixes that can hardly be trusted (kilometres off) follow one another in
    next to no time.
    """
    needed_m2_s3 = 12 * _LEAST_SHARE / model.q_m2_per_s3
    var_m2 = (model.white_m * spread) ** 2 + model.drift_m**2
    if needed_m2_s3 * np.max(var_m2) <= np.min(step_s) ** 3:
        return np.ones(1)
    either_var_m2 = np.maximum(var_m2[:-1], var_m2[1:])
    return np.asarray(np.maximum(needed_m2_s3 * either_var_m2 / step_s**3, 1.0))


def _add_motion(
    system: _System, step_s: FloatArray, easing: FloatArray, model: MotionModel
) -> float:
    """Add the prior that links neighbouring fixes; returns its log determinant, one axis.

    The inverse covariance of integrated white acceleration over a step h is
    [[12/h³, -6/h²], [-6/h², 4/h]] / q; it is written out for both ends of the step.
    """
    square = 6 / (model.q_m2_per_s3 * easing * step_s**2)
    cube = 2 * square / step_s
    once = 2 * square * step_s / 3
    system.within(_P, _P)[:-1] += cube
    system.within(_P, _V)[:-1] += square
    system.within(_V, _V)[:-1] += once
    system.within(_P, _P)[1:] += cube
    system.within(_P, _V)[1:] -= square
    system.within(_V, _V)[1:] += once
    system.onward(_P, _P)[:] -= cube
    system.onward(_P, _V)[:] += square
    system.onward(_V, _P)[:] -= square
    system.onward(_V, _V)[:] += once / 2

    kept = np.exp(-step_s / model.drift_s)
    renewed = 1 / (model.drift_m**2 * -np.expm1(-2 * step_s / model.drift_s))
    system.within(_B, _B)[0] += 1 / model.drift_m**2
    system.within(_B, _B)[:-1] += kept**2 * renewed
    system.within(_B, _B)[1:] += renewed
    system.onward(_B, _B)[:] -= kept * renewed
    return float(
        2 * step_s.size * np.log(model.q_m2_per_s3)
        + 2 * np.sum(np.log(easing))
        + 2 * np.log(model.drift_m)
        - np.sum(np.log(renewed))
    )


def _add_observations(
    system: _System, right: FloatArray, observations: Observations, model: MotionModel
) -> float:
    """Add what was observed; returns log det R over both axes."""
    weight = 1 / (model.white_m * observations.spread) ** 2
    system.within(_P, _P)[:] += weight
    system.within(_P, _B)[:] += weight
    system.within(_B, _B)[:] += weight
    pull = weight[:, None] * observations.position_m
    right[:, _P] += pull
    right[:, _B] += pull
    log_det = -2 * float(np.sum(np.log(weight)))

    seen = np.isfinite(observations.velocity_mps[:, 0])
    velocity_weight = 1 / observations.velocity_sd_mps[seen] ** 2
    system.within(_V, _V)[seen] += velocity_weight
    right[seen, _V] += velocity_weight[:, None] * observations.velocity_mps[seen]
    return log_det - 2 * float(np.sum(np.log(velocity_weight)))


def _misfit(
    states: FloatArray,
    step_s: FloatArray,
    easing: FloatArray,
    observations: Observations,
    model: MotionModel,
) -> float:
    """What the estimate leaves: squares of all residuals by their variance, over both axes.

    Summed from the residuals themselves; as a difference of large sums it would lose its digits
    over kilometres.
    """
    position, velocity, drift = states[:, _P], states[:, _V], states[:, _B]
    h = step_s[:, None]
    strayed = np.diff(position, axis=0) - h * velocity[:-1]
    changed = np.diff(velocity, axis=0)
    motion = 12 * strayed**2 / h**3 - 12 * strayed * changed / h**2 + 4 * changed**2 / h
    kept = np.exp(-h / model.drift_s)
    drifted = drift[1:] - kept * drift[:-1]
    wandering = drifted**2 / (model.drift_m**2 * -np.expm1(-2 * h / model.drift_s))
    seen_m = (observations.position_m - position - drift) / observations.spread[:, None]
    seen_mps = (observations.velocity_mps - velocity) / observations.velocity_sd_mps[:, None]
    return float(
        np.sum(motion / easing[:, None]) / model.q_m2_per_s3
        + np.sum(wandering)
        + np.sum(drift[0] ** 2) / model.drift_m**2
        + np.sum(seen_m**2) / model.white_m**2
        + np.nansum(seen_mps**2)
    )
