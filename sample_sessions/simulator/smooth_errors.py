"""Errors of a receiver that filters its own positions: smooth from second to second.

Static logs of real receivers look like this: what is left of white noise is centimetres, the error
of one second is nearly that of the next, and it wanders for minutes to hours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import butter, lfilter

from simulator.course import FloatArray

_GRID_S = 0.25
_SETTLING = 6.0  # filters and walks run for so many time constants before the first fix
_LONGEST_SETTLING_S = 4000.0


@dataclass(frozen=True, slots=True)
class SmoothErrors:
    """Per axis: wanderings of several time constants, low-passed twice, and a white remainder.

    ``parts``: (standard deviation in metres, time constant in seconds) of each wandering.
    """

    parts: tuple[tuple[float, float], ...]
    smoothing_s: float  # time constant of the receiver's own filter
    white_m: float = 0.02

    @property
    def sigma_m(self) -> float:
        """Standard deviation per axis, before the filter takes a little of it."""
        return math.hypot(self.white_m, *(sd_m for sd_m, _ in self.parts))

    def at(self, t_s: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Offsets (n, 2) in metres at moments (n,) that never go back."""
        longest_s = max(time_s for _, time_s in self.parts)
        before_s = min(_SETTLING * max(longest_s, self.smoothing_s), _LONGEST_SETTLING_S)
        grid_s = np.arange(float(t_s[0]) - before_s, float(t_s[-1]) + 2 * _GRID_S, _GRID_S)
        rough_m = np.zeros((grid_s.size, 2))
        for sd_m, time_s in self.parts:
            keep = math.exp(-_GRID_S / time_s)
            kicks = rng.standard_normal((grid_s.size, 2))
            kicks[1:] *= math.sqrt(1 - keep**2)
            rough_m += sd_m * lfilter([1.0], [1.0, -keep], kicks, axis=0)
        corner_hz = 1 / (2 * math.pi * self.smoothing_s)
        numerator, denominator = butter(2, corner_hz, fs=1 / _GRID_S)
        smooth_m = lfilter(numerator, denominator, rough_m, axis=0)
        return np.asarray(
            CubicSpline(grid_s, smooth_m)(t_s) + self.white_m * rng.standard_normal((t_s.size, 2))
        )
