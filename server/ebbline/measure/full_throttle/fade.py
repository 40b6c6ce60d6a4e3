"""How the power at full throttle faded with the energy taken past zero.

The car's power limit doesn't rise again while its battery is run down, so the curve through the
plateaus is the least-squares falling one (isotonic regression, each figure weighted by its inverse
variance), joined without overshoot by monotone cubics (Fritsch and Carlson 1980 in Butland's form).
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import isotonic_regression

from ebbline.measure import quantity
from ebbline.records.arrays import FloatArray
from ebbline.records.curves import Band
from ebbline.records.result import Limit

_POINTS = 60
_LEAST_SD_KW = 1e-3


def fade_of(limits: tuple[Limit, ...]) -> tuple[FloatArray, Band]:
    """Power from the pack (k,) in kW over energy past zero (k,) in kWh; empty below two plateaus.

    The band is that of the plateaus' own figures. Nothing is said before the first plateau or
    after the last.
    """
    points = sorted(
        (limit.energy_past_zero_kwh.value, limit.pack_kw.value, quantity.sd_of(limit.pack_kw))
        for limit in limits
        if limit.energy_past_zero_kwh is not None and limit.pack_kw is not None
    )
    energy_kwh, first = np.unique([point[0] for point in points], return_index=True)
    if energy_kwh.size < 2:
        return np.empty(0), Band.empty()
    power_kw, sd_kw = (np.array([point[k] for point in points])[first] for k in (1, 2))
    at_kwh = np.union1d(np.linspace(energy_kwh[0], energy_kwh[-1], _POINTS), energy_kwh)
    value = falling(energy_kwh, power_kw, sd_kw, at_kwh)
    half = quantity.COVERAGE_FACTOR * np.interp(at_kwh, energy_kwh, sd_kw)
    return at_kwh, Band(value, np.maximum(value - half, 0.0), value + half)


def falling(x: FloatArray, y: FloatArray, sd: FloatArray, at: FloatArray) -> FloatArray:
    """The falling curve nearest to points (n,), x strictly rising, at places (k,) among them."""
    weights = 1 / np.maximum(sd, _LEAST_SD_KW) ** 2
    level = isotonic_regression(y, weights=weights, increasing=False).x
    return np.asarray(PchipInterpolator(x, level)(at))
