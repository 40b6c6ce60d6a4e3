"""The noise of this session's receiver and this car's driving, fitted to its own fixes.

The four figures of the motion model are those that make the fixes most likely (marginal
likelihood of the linear model), held loosely to usual values so that a short or featureless
track can't run away.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.optimize import minimize

from ebbline.measure.fixes import Fixes
from ebbline.measure.smoother import MotionModel, Observations, smooth
from ebbline.records import FloatArray

USUAL_SIGMA_M = 3.0
_WINDOW = 1200  # fixes used for the fit; more change little
_PRIOR_SD = np.array([1.2, 1.0, 0.7, 0.3])  # of the logarithms: q, white, drift, Doppler


def starting_model(fixes: Fixes) -> MotionModel:
    """Usual values: the receiver's own claim for the drift, a third of it white."""
    known = np.isfinite(fixes.sigma_m)
    sigma_m = float(np.median(fixes.sigma_m[known])) if np.any(known) else USUAL_SIGMA_M
    sigma_m = float(np.clip(sigma_m, 0.3, 30.0))
    return MotionModel(
        q_m2_per_s3=1.0, white_m=sigma_m / 3, drift_m=sigma_m, doppler_mps=0.15, drift_s=60.0
    )


def fit_model(observations: Observations, start: MotionModel) -> MotionModel:
    """The model with the greatest posterior density for up to two windows of the track."""
    windows = _windows(observations)
    if not windows:
        return start
    usual = np.log(_figures(start))

    def cost(log_figures: FloatArray) -> float:
        model = _model(np.exp(log_figures), start)
        value = float(np.sum(((log_figures - usual) / _PRIOR_SD) ** 2))
        for window in windows:
            seen = replace(window, velocity_sd_mps=np.full(window.t_s.size, model.doppler_mps))
            value += smooth(seen, model).minus_2_log_likelihood
        return value

    best = minimize(
        cost,
        usual,
        method="Nelder-Mead",
        options={"maxfev": 90, "xatol": 0.05, "fatol": 0.5, "initial_simplex": _simplex(usual)},
    )
    return _model(np.exp(best.x), start)


def _figures(model: MotionModel) -> FloatArray:
    return np.array([model.q_m2_per_s3, model.white_m, model.drift_m, model.doppler_mps])


def _model(figures: FloatArray, start: MotionModel) -> MotionModel:
    q, white, drift, doppler = (float(figure) for figure in figures)
    return MotionModel(q, white, drift, doppler, start.drift_s)


def _simplex(centre: FloatArray) -> FloatArray:
    return np.vstack([centre, centre + 0.6 * np.eye(centre.size)])


def _windows(observations: Observations) -> list[Observations]:
    """One window where the car moved most, so that parked minutes don't set the noise."""
    n = observations.t_s.size
    if n < 30:
        return []
    if n <= _WINDOW:
        return [observations]
    leg_m = np.hypot(*np.diff(observations.position_m, axis=0).T)
    reach = np.concatenate([[0.0], np.cumsum(np.minimum(leg_m, 100.0))])
    starts = np.arange(0, n - _WINDOW, _WINDOW // 4)
    best = int(starts[np.argmax(reach[starts + _WINDOW] - reach[starts])])
    window = slice(best, best + _WINDOW)
    return [
        Observations(
            t_s=observations.t_s[window],
            position_m=observations.position_m[window],
            spread=observations.spread[window],
            velocity_mps=observations.velocity_mps[window],
            velocity_sd_mps=observations.velocity_sd_mps[window],
        )
    ]
