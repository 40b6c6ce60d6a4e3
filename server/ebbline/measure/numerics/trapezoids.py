"""Integrals of what runs straight between samples."""

from __future__ import annotations

import numpy as np

from ebbline.records.arrays import FloatArray


def integral_so_far(t_s: FloatArray, values: FloatArray) -> FloatArray:
    """Integral over time from the first sample to each (n,), by the trapezoidal rule.

    Its unit is that of the values (n,) times seconds.
    """
    # scipy.integrate has the same, but an analysis needs nothing else of it, and it is slow to load
    areas = np.diff(t_s) * (values[1:] + values[:-1]) / 2.0
    return np.concatenate([[0.0], np.cumsum(areas)])
