"""A steady level, seen through a display that rounds."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from ebbline.measure import quantity
from ebbline.measure.recharge.shown import Shown
from ebbline.records.arrays import BoolArray
from ebbline.records.result import Quantity

_LEVELS, _UNRESTS = 241, 12
_FEW = 4  # so many readings or more that never changed tell that there is little unrest
_USUAL_UNREST = 0.01  # of the level, where too few readings show it (common practice, no source)


def level_of(shown: Shown, chosen: BoolArray) -> Quantity | None:
    """A level of power that went up and down a little, seen through its rounding.

    Each reading says that the power then lay between its bounds; level and unrest that make all of
    them likely are weighed by how likely (a grid over both, unrest with equal weight per factor).
    One that goes to and fro between two says that the level lies near the edge between them; a
    figure that never changed says nothing of unrest and leaves its whole rounding open. With a few
    readings an unrest that they don't show may still be there.
    """
    if not np.any(chosen):
        return None
    low, high = shown.low[chosen], shown.high[chosen]
    width = float(np.mean(high - low))
    middle = (low + high) / 2
    hidden = _USUAL_UNREST * float(np.mean(middle)) if middle.size < _FEW else 0.0
    if np.ptp(middle) == 0 and not hidden:
        return quantity.rectangular(float(middle[0]), width / 2, 0.0, floor=0.0)
    level = np.linspace(np.min(low) - 2 * hidden, np.max(high) + 2 * hidden, _LEVELS)
    most = max(hidden, width if np.ptp(middle) else 0.0, 2 * float(np.std(middle)))
    unrest = np.geomspace(0.01 * width, max(most, 0.02 * width), _UNRESTS)
    off = level[:, None, None]
    inside = ndtr((high - off) / unrest[:, None]) - ndtr((low - off) / unrest[:, None])
    log_weight = np.sum(np.log(np.maximum(inside, 1e-300)), axis=2)
    weight = np.sum(np.exp(log_weight - np.max(log_weight)), axis=1)
    share = np.cumsum(weight) / np.sum(weight)
    least, most = np.interp([0.025, 0.975], share, level)
    return Quantity(float(level @ weight / np.sum(weight)), max(float(least), 0.0), float(most))
