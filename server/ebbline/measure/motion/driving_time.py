"""How long the car had driven by each moment that no positions tell of.

It is taken to drive, except where taps say otherwise: rolling out once propulsion is off, standing
from then on until somebody restarts it, and standing on the charger.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure.time.moments import Events
from ebbline.records.arrays import FloatArray

STEP_S = 2.0
# Without a tap of the standstill a car without propulsion is taken to roll for so long, at half
# its pace in the mean (common practice, no source).
_ROLLS_S = 90.0
_ROLLS_AT_MOST_S = 600.0
_RESTARTED = "succeeded"


@dataclass(frozen=True, slots=True, eq=False)
class DrivingTime:
    """Seconds driven since the first moment, on an even grid of moments (n,)."""

    t_s: FloatArray
    driven_s: FloatArray

    def at(self, t_s: FloatArray) -> FloatArray:
        """By moments (k,), held at the ends."""
        return np.asarray(np.interp(t_s, self.t_s, self.driven_s))

    def rate(self, t_s: FloatArray) -> FloatArray:
        """Share of its pace at which the car moved at moments (k,)."""
        step = np.diff(self.driven_s) / np.diff(self.t_s)
        index = np.clip(np.searchsorted(self.t_s, t_s, side="right") - 1, 0, step.size - 1)
        return np.asarray(step[index])


def driving_time(
    events: Events, from_s: float, to_s: float, known: tuple[float, float] | None
) -> DrivingTime:
    """Between two moments; over ``known``, which positions tell, no time counts."""
    grid_s = np.linspace(from_s, to_s, max(2, math.ceil((to_s - from_s) / STEP_S) + 1))
    middle_s = (grid_s[:-1] + grid_s[1:]) / 2
    rate = np.ones(middle_s.size)
    for off_s, still_s, on_s in _stands(events):
        rolling = (middle_s >= off_s) & (middle_s < still_s)
        if still_s - off_s > 0:
            rate[rolling] = 1 - (middle_s[rolling] - off_s) / (still_s - off_s)
        rate[(middle_s >= still_s) & (middle_s < on_s)] = 0.0
    if known is not None:
        rate[(middle_s >= known[0]) & (middle_s <= known[1])] = 0.0
    return DrivingTime(grid_s, np.concatenate([[0.0], np.cumsum(rate * np.diff(grid_s))]))


def _stands(events: Events) -> list[tuple[float, float, float]]:
    """When propulsion ended, when the car then stood, and when it drove again, if it did."""
    plugged = events.first("plug_in") or events.first("charge_start")
    plugged_s = plugged.moment.t_s if plugged else math.inf
    stands = [(plugged_s, plugged_s, math.inf)] if plugged else []
    offs = [timed.moment.t_s for timed in events.of("propulsion_off")]
    offs = [off_s for off_s in offs if off_s < plugged_s]
    if not offs:
        ended = events.last("standstill", plugged_s) or events.last("contactors_open", plugged_s)
        if ended:
            stands.append((ended.moment.t_s, ended.moment.t_s, math.inf))
        return stands
    for off_s, next_s in zip(offs, [*offs[1:], math.inf], strict=True):
        restarted = [
            timed.moment.t_s
            for timed in events.of("restart")
            if off_s < timed.moment.t_s < min(next_s, plugged_s)
            and (timed.event.text or "").strip().lower() == _RESTARTED
        ]
        if not restarted and math.isfinite(next_s):
            continue  # a second tap with no restart between: it drove on, as far as anybody knows
        on_s = restarted[0] if restarted else math.inf
        still = events.first("standstill", off_s)
        still_s = still.moment.t_s if still else math.inf
        if still_s > min(off_s + _ROLLS_AT_MOST_S, on_s):
            still_s = min(off_s + _ROLLS_S, on_s)
        stands.append((off_s, still_s, on_s))
    return stands
