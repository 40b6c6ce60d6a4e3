"""Stretches of a column of flags."""

from __future__ import annotations

import numpy as np

from ebbline.records.arrays import BoolArray


def stretches(flags: BoolArray) -> list[tuple[int, int]]:
    """First and last index of every run of True in (n,) flags."""
    padded = np.concatenate([[0], flags.astype(np.int8), [0]])
    edges = np.flatnonzero(np.diff(padded)).reshape(-1, 2)
    return [(int(first), int(end) - 1) for first, end in edges]
