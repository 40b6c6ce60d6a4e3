"""Readings of one quantity of the recharge, in order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.display import interval_of
from ebbline.measure.time.moments import TimedReading
from ebbline.records.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Readings of one quantity in order: moments (n,), bounds (n,), timing (n,)."""

    t_s: FloatArray
    low: FloatArray
    high: FloatArray
    sd_s: FloatArray

    @property
    def middle(self) -> FloatArray:
        """The middle of what each reading allows, (n,)."""
        return (self.low + self.high) / 2


def shown(readings: list[TimedReading], quantity: str, after_s: float) -> Shown:
    """Readings of a quantity at or after a moment."""
    own = sorted(
        (r for r in readings if r.reading.quantity == quantity and r.moment.t_s >= after_s),
        key=lambda timed: timed.moment.t_s,
    )
    bounds = np.array([interval_of(r.reading) for r in own]).reshape(-1, 2)
    return Shown(
        t_s=np.array([r.moment.t_s for r in own]),
        low=np.maximum(bounds[:, 0], 0.0),
        high=bounds[:, 1],
        sd_s=np.array([r.moment.sd_s for r in own]),
    )
