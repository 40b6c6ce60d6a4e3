"""The noise of this session's receiver and this car's driving, fitted to its own fixes.

The noise of Doppler speeds is read off their second differences. The other figures of the motion
model are those that make the fixes most likely (marginal likelihood of the linear model), held
loosely to usual values so that a short or featureless track can't run away. (Fitting all four
would credit the speeds with the smoothness of steady driving.)
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.optimize import minimize

from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.kalman_smoother import MotionModel, Observations, smooth
from ebbline.records.arrays import FloatArray

USUAL_SIGMA_M = 3.0
USUAL_DOPPLER_MPS = 0.15
USUAL_DRIFT_S = 60.0
_MOVING_MPS = 2.0
_WINDOW = 1200  # fixes used for the fit; more change little
_TOO_FEW = 30  # fixes that can't tell their own noise
# No receiver and no driver is better than this; it also keeps the system solvable.
_LEAST = np.array([1e-3, 0.02, 0.05, 5.0])
_LEAST_WHITE_SHARE = 1e-5  # of the drift: beside a smaller one the drift is lost in rounding
_PRIOR_SD = np.array([1.2, 1.0, 0.7, 0.8])  # of the logarithms: q, white, drift, its time


def starting_model(fixes: Fixes) -> MotionModel:
    """Usual values: the receiver's own claim for the drift, a third of it white."""
    known = np.isfinite(fixes.sigma_m)
    sigma_m = float(np.median(fixes.sigma_m[known])) if np.any(known) else USUAL_SIGMA_M
    sigma_m = float(np.clip(sigma_m, 0.3, 30.0))
    return MotionModel(
        q_m2_per_s3=1.0,
        white_m=sigma_m / 3,
        drift_m=sigma_m,
        doppler_mps=_doppler_mps(fixes.speed_mps),
        drift_s=USUAL_DRIFT_S,
    )


def _doppler_mps(speed_mps: FloatArray) -> float:
    """Noise of the speeds from their second differences, which a steady drive leaves to noise.

    The median absolute deviation keeps braking and speeding up out of it.
    """
    moving = speed_mps > _MOVING_MPS  # a receiver at rest shows hardly any noise
    second = np.diff(np.where(moving, speed_mps, np.nan), n=2)
    second = second[np.isfinite(second) & (second != 0)]
    if second.size < 20:
        return USUAL_DOPPLER_MPS
    noise = float(np.median(np.abs(second))) * MAD_TO_SIGMA / np.sqrt(6)
    return float(np.clip(noise, 0.03, 0.5))


def fit_model(observations: Observations, start: MotionModel) -> MotionModel:
    """The model with the greatest posterior density, judged on the liveliest part of the track."""
    if observations.t_s.size < _TOO_FEW:
        return start
    window = _liveliest(observations)
    usual = np.log(_figures(start))

    def cost(log_figures: FloatArray) -> float:
        model = _model(np.exp(log_figures), start)
        held = float(np.sum(((log_figures - usual) / _PRIOR_SD) ** 2))
        return held + smooth(window, model).minus_2_log_likelihood

    best = minimize(
        cost,
        usual,
        method="Nelder-Mead",
        options={"maxfev": 120, "xatol": 0.05, "fatol": 0.5, "initial_simplex": _simplex(usual)},
    )
    return _model(np.exp(best.x), start)


def _figures(model: MotionModel) -> FloatArray:
    return np.array([model.q_m2_per_s3, model.white_m, model.drift_m, model.drift_s])


def _model(figures: FloatArray, start: MotionModel) -> MotionModel:
    q, white, drift, lasting = (float(figure) for figure in np.maximum(figures, _LEAST))
    white = max(white, _LEAST_WHITE_SHARE * drift)
    return replace(start, q_m2_per_s3=q, white_m=white, drift_m=drift, drift_s=min(lasting, 600.0))


def _simplex(centre: FloatArray) -> FloatArray:
    return np.vstack([centre, centre + 0.6 * np.eye(centre.size)])


def _liveliest(observations: Observations) -> Observations:
    """The window in which the car moved most, so that parked minutes don't set the noise."""
    n = observations.t_s.size
    if n <= _WINDOW:
        return observations
    leg_m = np.hypot(*np.diff(observations.position_m, axis=0).T)
    reach = np.concatenate([[0.0], np.cumsum(np.minimum(leg_m, 100.0))])
    starts = np.arange(0, n - _WINDOW, _WINDOW // 4)
    best = int(starts[np.argmax(reach[starts + _WINDOW] - reach[starts])])
    window = slice(best, best + _WINDOW)
    return Observations(
        t_s=observations.t_s[window],
        position_m=observations.position_m[window],
        spread=observations.spread[window],
        velocity_mps=observations.velocity_mps[window],
        velocity_sd_mps=observations.velocity_sd_mps[window],
    )
