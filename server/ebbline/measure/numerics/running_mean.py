"""A speed without its noise, where its change is asked for."""

from __future__ import annotations

import numpy as np

from ebbline.records.arrays import FloatArray

OVER_S = 3.0


def running_mean(t_s: FloatArray, speed_mps: FloatArray) -> FloatArray:
    """Running mean (n,) over about three seconds, so that noise isn't taken for speeding up."""
    width = max(1, round(OVER_S / float(np.median(np.diff(t_s))))) | 1
    padded = np.pad(speed_mps, width // 2, mode="edge")
    return np.asarray(np.convolve(padded, np.full(width, 1 / width), mode="valid"))
