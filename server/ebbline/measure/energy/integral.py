"""Energy as the integral of voltage times current."""

from __future__ import annotations

import numpy as np

from ebbline.measure.numerics.trapezoids import integral_so_far
from ebbline.records.arrays import FloatArray

JOULE_PER_KWH = 3.6e6


def from_voltage_and_current_kwh(
    t_s: FloatArray, voltage_v: FloatArray, current_a: FloatArray
) -> FloatArray:
    """Energy since the first sample by the trapezoidal rule on power, (n,), kWh.

    Discharge current positive. tests/published holds it against a battery simulation.
    """
    power_w = np.asarray(voltage_v) * np.asarray(current_a)
    return integral_so_far(t_s, power_w) / JOULE_PER_KWH
