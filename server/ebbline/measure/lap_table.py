"""The laps of the result: length, duration and energy of each."""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.laps.laps import Laps
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment
from ebbline.measure.track.distances import sd_of_difference
from ebbline.records.result import Lap


def lap_entries(run: Run, laps: Laps | None) -> tuple[Lap, ...]:
    """Every lap from gate to gate, by GNSS alone; energy where readings bound it."""
    if laps is None or run.track is None:
        return ()
    entries = []
    pace_mps = run.track.speed_at(laps.gate_s)
    for k in range(laps.gate_s.size - 1):
        start_s, end_s = float(laps.gate_s[k]), float(laps.gate_s[k + 1])
        length = quantity.not_negative(laps.distances.interval(k, k + 1))
        crossing_m = sd_of_difference(laps.crossing_cov_m2, k, k + 1)
        slowest_mps = float(max(np.min(pace_mps[k : k + 2]), 0.5))
        duration = quantity.normal(end_s - start_s, crossing_m / slowest_mps, floor=0.0)
        if length is None or duration is None:
            continue
        energy = run.energy_between(Moment(start_s, 0.0), [Moment(end_s, 0.0)])[0]
        entries.append(
            Lap(k + 1, round(start_s * 1000), round(end_s * 1000), length, duration, energy)
        )
    return tuple(entries)
