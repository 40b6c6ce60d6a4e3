"""Energy per distance, past zero and by speed; and the balance of what came out and went in."""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.laps.laps import Laps
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment
from ebbline.records.result import Consumption, Quantity, Reserve, SpeedConsumption

_STRETCHES = 5  # on a course without laps the run is cut in so many equal lengths
_LEAST_STRETCH_M = 800.0


def consumption_of(run: Run, reserve: Reserve, laps: Laps | None) -> Consumption:
    """Past zero as a whole, and over each lap or equal stretch with its mean speed."""
    per_m = quantity.ratio(reserve.energy_kwh, reserve.distance_m)
    return Consumption(quantity.scaled(per_m, 1e6), _by_speed(run, laps))


def _by_speed(run: Run, laps: Laps | None) -> tuple[SpeedConsumption, ...]:
    if run.track is None or run.energy is None:
        return ()
    if laps is not None and laps.gate_s.size >= 2:
        edges_s = laps.gate_s
    else:
        total_m = float(run.track.along_m[-1])
        count = min(_STRETCHES, int(total_m // _LEAST_STRETCH_M))
        if count < 1:
            return ()
        marks_m = np.linspace(0, total_m, count + 1)
        edges_s = np.interp(marks_m, run.track.along_m, run.track.t_s)
    moments = [Moment(float(edge_s), 0.0) for edge_s in edges_s]
    placed = run.distances(moments)
    if placed is None:
        return ()
    stretches = []
    for k in range(len(moments) - 1):
        length = placed.between(k, k + 1)
        energy = run.energy_between(moments[k], [moments[k + 1]])[0]
        per_m = quantity.ratio(energy, length)
        duration_s = moments[k + 1].t_s - moments[k].t_s
        speed = quantity.scaled(length, 1 / duration_s)
        per_km = quantity.scaled(per_m, 1e6)
        if speed is None or per_km is None or not _told(energy):
            continue
        stretches.append(
            SpeedConsumption(
                round(moments[k].t_s * 1000), round(moments[k + 1].t_s * 1000), speed, per_km
            )
        )
    return tuple(stretches)


def _told(energy: Quantity | None) -> bool:
    """Whether the readings say anything of this stretch beyond the expectation."""
    return energy is not None and energy.value > 0 and energy.low > 0
