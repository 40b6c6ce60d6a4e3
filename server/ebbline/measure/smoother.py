"""Position, velocity and receiver drift estimated together, as one banded system.

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

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded, solveh_banded

from ebbline.errors import MeasureError
from ebbline.records import FloatArray, IntArray

STATES = 3  # position, velocity, drift
_UPPER = 2 * STATES - 1
_AROUND = 60  # fixes on either side that can tell anything about a velocity


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
    """The estimate at the fixes: (n, 2) each; the system's matrix and factor, banded."""

    position_m: FloatArray
    velocity_mps: FloatArray
    drift_m: FloatArray
    information: FloatArray
    factor: FloatArray
    minus_2_log_likelihood: float

    def solve(self, functionals: FloatArray) -> FloatArray:
        """Posterior covariance of every state with k linear functionals of one axis.

        ``functionals`` (n, STATES, k) weighs position, velocity and drift; same shape back.
        """
        n, states, k = functionals.shape
        flat = functionals.reshape(n * states, k)
        solved = cho_solve_banded((self.factor, False), flat, check_finite=False)
        return np.asarray(solved).reshape(n, states, k)

    def velocity_sd(self, fixes: IntArray) -> FloatArray:
        """Standard deviation (k,) of the velocity at fixes (k,), the same along both axes.

        From the fixes around each: what lies further off adds nothing to a velocity.
        """
        n = self.position_m.shape[0]
        variance = np.empty(fixes.size)
        for k, fix in enumerate(fixes):
            first, last = max(fix - _AROUND, 0), min(fix + _AROUND + 1, n)
            unit = np.zeros((last - first) * STATES)
            unit[(fix - first) * STATES + 1] = 1.0
            local = self.information[:, first * STATES : last * STATES]
            variance[k] = solveh_banded(local, unit, check_finite=False) @ unit
        return np.sqrt(variance)


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
    diagonal = np.zeros((n, STATES, STATES))
    beside = np.zeros((n - 1, STATES, STATES))
    log_det = _add_motion(diagonal, beside, step_s, model)
    right = np.zeros((n, STATES, 2))
    log_det_r, misfit = _add_observations(diagonal, right, observations, model)

    information = _banded(diagonal, beside)
    factor = cholesky_banded(information, check_finite=False)
    flat = right.reshape(n * STATES, 2)
    solution = cho_solve_banded((factor, False), flat, check_finite=False)
    log_det_a = 2 * float(np.sum(np.log(factor[-1])))
    states = solution.reshape(n, STATES, 2)
    return Smoothed(
        position_m=states[:, 0],
        velocity_mps=states[:, 1],
        drift_m=states[:, 2],
        information=information,
        factor=factor,
        minus_2_log_likelihood=(
            2 * (log_det + log_det_a) + log_det_r + misfit - float(np.sum(flat * solution))
        ),
    )


def _add_motion(
    diagonal: FloatArray, beside: FloatArray, step_s: FloatArray, model: MotionModel
) -> float:
    """Add the prior that links neighbouring fixes; returns its log determinant, one axis."""
    information = np.empty((step_s.size, 2, 2))
    information[:, 0, 0] = 12 / step_s**3
    information[:, 0, 1] = information[:, 1, 0] = -6 / step_s**2
    information[:, 1, 1] = 4 / step_s
    information /= model.q_m2_per_s3
    forward = np.zeros((step_s.size, 2, 2))
    forward[:, 0, 0] = forward[:, 1, 1] = 1
    forward[:, 0, 1] = step_s
    carried = np.swapaxes(forward, 1, 2) @ information
    diagonal[:-1, :2, :2] += carried @ forward
    diagonal[1:, :2, :2] += information
    beside[:, :2, :2] -= carried

    kept = np.exp(-step_s / model.drift_s)
    drift_information = 1 / (model.drift_m**2 * -np.expm1(-2 * step_s / model.drift_s))
    diagonal[0, 2, 2] += 1 / model.drift_m**2
    diagonal[:-1, 2, 2] += kept**2 * drift_information
    diagonal[1:, 2, 2] += drift_information
    beside[:, 2, 2] -= kept * drift_information
    return float(
        2 * step_s.size * np.log(model.q_m2_per_s3)
        + 2 * np.log(model.drift_m)
        - np.sum(np.log(drift_information))
    )


def _add_observations(
    diagonal: FloatArray, right: FloatArray, observations: Observations, model: MotionModel
) -> tuple[float, float]:
    """Add what was observed; returns log det R and y' R⁻¹ y over both axes."""
    weight = 1 / (model.white_m * observations.spread) ** 2
    diagonal[:, 0, 0] += weight
    diagonal[:, 0, 2] += weight
    diagonal[:, 2, 0] += weight
    diagonal[:, 2, 2] += weight
    pull = weight[:, None] * observations.position_m
    right[:, 0] += pull
    right[:, 2] += pull
    log_det = -2 * float(np.sum(np.log(weight)))
    misfit = float(np.sum(pull * observations.position_m))

    seen = np.isfinite(observations.velocity_mps[:, 0])
    velocity_weight = 1 / observations.velocity_sd_mps[seen] ** 2
    velocity = observations.velocity_mps[seen]
    diagonal[seen, 1, 1] += velocity_weight
    right[seen, 1] += velocity_weight[:, None] * velocity
    log_det -= 2 * float(np.sum(np.log(velocity_weight)))
    misfit += float(np.sum(velocity_weight[:, None] * velocity**2))
    return log_det, misfit


def _banded(diagonal: FloatArray, beside: FloatArray) -> FloatArray:
    """Blocks to LAPACK's upper banded storage."""
    n = diagonal.shape[0]
    banded = np.zeros((_UPPER + 1, n * STATES))
    for row in range(STATES):
        for column in range(row, STATES):
            banded[_UPPER - (column - row), column::STATES] = diagonal[:, row, column]
    for row in range(STATES):
        for column in range(STATES):
            band = STATES + column - row
            if band <= _UPPER:
                banded[_UPPER - band, STATES + column :: STATES] = beside[:, row, column]
    return banded
