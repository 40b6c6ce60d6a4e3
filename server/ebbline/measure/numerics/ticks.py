"""Every so often, but only where something was seen."""

from __future__ import annotations

import numpy as np

from ebbline.records.arrays import FloatArray


def ticks(seen_s: FloatArray, from_s: float, apart_s: float) -> FloatArray:
    """Moments (k,), each a multiple of ``apart_s`` after ``from_s``, that begin a span with any of
    the moments ``seen_s`` (n,) in it: never more than these, however long nothing was seen.
    """
    return np.asarray(from_s + apart_s * np.unique(np.floor((seen_s - from_s) / apart_s)))
