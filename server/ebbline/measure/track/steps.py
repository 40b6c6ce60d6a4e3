"""Length of the steps between fixes, and how it hangs on the smoothed states at their ends.

Over a short step it is the trapezoid of the speeds: where shown speeds lead, the motion model
straightens corners between fixes, while the speed stays what it was. Over a longer one a car
brakes, turns and speeds up between two speeds that tell nothing of it; there it is the arc of the
smoothed cubic, which passes both positions, so that errors of the speeds don't add up.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure.track.kalman_smoother import STATES, Smoothed
from ebbline.records.arrays import FloatArray

# From here on a step is long: the trapezoid misses h²/8 times a change of acceleration, at
# 1.5 m/s² more than positions are off from fix to fix (common practice, no source).
LONG_S = 2.5
_NODES, _SHARES = np.polynomial.legendre.leggauss(5)
_NODES, _SHARES = (_NODES + 1) / 2, _SHARES / 2
_LEAST_MPS = 1e-6


def directions(velocity_mps: FloatArray) -> FloatArray:
    """Unit vectors (n, 2); zero where there is no speed."""
    speed = np.hypot(*velocity_mps.T)[:, None]
    return np.asarray(
        np.divide(velocity_mps, speed, out=np.zeros_like(velocity_mps), where=speed > _LEAST_MPS)
    )


def lengths_m(t_s: FloatArray, speed_mps: FloatArray, smoothed: Smoothed) -> FloatArray:
    """Length (n-1,) of each step; ``speed_mps`` (n,) as freed of its biases."""
    step_s = np.diff(t_s)
    length_m = _trapezoid(step_s, speed_mps)
    long = step_s > LONG_S
    if np.any(long):
        arc_m = sum(
            share * np.hypot(*velocity_mps.T)
            for share, velocity_mps in zip(_SHARES, _within(step_s, smoothed), strict=True)
        )
        bent_m = step_s * arc_m - _trapezoid(step_s, np.hypot(*smoothed.velocity_mps.T))
        moving = (speed_mps[:-1] > 0) | (speed_mps[1:] > 0)
        length_m = np.maximum(length_m + bent_m * (long & moving), 0.0)
    return length_m


def gradients(t_s: FloatArray, smoothed: Smoothed) -> tuple[FloatArray, FloatArray]:
    """How the length of each step grows with the states at its start and its end.

    (n-1, STATES, 2) each, by state and axis.
    """
    step_s = np.diff(t_s)
    ahead = directions(smoothed.velocity_mps)
    start, end = (np.zeros((step_s.size, STATES, 2)) for _ in range(2))
    start[:, 1] = step_s[:, None] / 2 * ahead[:-1]
    end[:, 1] = step_s[:, None] / 2 * ahead[1:]
    long = step_s > LONG_S
    if np.any(long):
        start[long], end[long] = 0.0, 0.0
        for node, share, velocity_mps in zip(
            _NODES, _SHARES, _within(step_s, smoothed), strict=True
        ):
            along = share * directions(velocity_mps[long])
            by_place, by_start, by_end = _slopes(node)
            start[long, 0] -= by_place * along
            end[long, 0] += by_place * along
            start[long, 1] += by_start * along * step_s[long, None]
            end[long, 1] += by_end * along * step_s[long, None]
    return start, end


def _within(step_s: FloatArray, smoothed: Smoothed) -> list[FloatArray]:
    """Velocity (n-1, 2) of the cubic at each of the nodes within the steps."""
    chord_mps = np.diff(smoothed.position_m, axis=0) / step_s[:, None]
    velocity_mps = smoothed.velocity_mps
    return [
        by_place * chord_mps + by_start * velocity_mps[:-1] + by_end * velocity_mps[1:]
        for by_place, by_start, by_end in map(_slopes, _NODES)
    ]


def _slopes(node: float) -> tuple[float, float, float]:
    """Of Hermite's cubic at a share of its step: by the chord, the first and the last velocity."""
    return 6 * node * (1 - node), (1 - node) * (1 - 3 * node), node * (3 * node - 2)


def _trapezoid(step_s: FloatArray, speed_mps: FloatArray) -> FloatArray:
    return np.asarray(step_s * (speed_mps[:-1] + speed_mps[1:]) / 2)
