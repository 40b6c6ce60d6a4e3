"""The lines behind the figures, for drawing, and an analysis as a whole."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.result import Result


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """A curve with its 95 % band; arrays of one shape (n,), NaN where not known."""

    value: FloatArray
    low: FloatArray
    high: FloatArray

    @classmethod
    def empty(cls) -> Band:
        """A band without points."""
        return cls(np.empty(0), np.empty(0), np.empty(0))


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """What the desk draws: the derived line of the run on one time base, shape (n,).

    ``t_ms`` is session time. ``distance_m`` counts from the first fix, ``past_zero_m`` and
    ``energy_past_zero_kwh`` from zero (all NaN when there is no zero). ``in_gap`` marks points
    bridged without fixes. The recharge curve has a base of its own, shape (k,), and so have the
    log's energy past zero, shape (m,), the power at full throttle over energy past zero, shape
    (f,), and what the display showed while charging: power, shape (p,), and energy, shape (e,),
    each with all that the figure can have meant. So has the power that the display said was
    available, shape (a,), over time and energy past zero, in kW or in % of full power.
    """

    t_ms: IntArray
    lat: FloatArray
    lon: FloatArray
    speed_mps: Band
    distance_m: Band
    past_zero_m: Band
    energy_past_zero_kwh: Band
    in_gap: BoolArray
    recharge_t_ms: IntArray
    recharge_energy_kwh: Band
    recharge_power_kw: Band
    log_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    log_energy_kwh: Band = field(default_factory=Band.empty)
    fade_energy_kwh: FloatArray = field(default_factory=lambda: np.empty(0))
    fade_power_kw: Band = field(default_factory=Band.empty)
    shown_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    shown_power_kw: Band = field(default_factory=Band.empty)
    counted_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    counted_energy_kwh: Band = field(default_factory=Band.empty)
    available_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    available_energy_kwh: FloatArray = field(default_factory=lambda: np.empty(0))
    available_power_kw: Band = field(default_factory=Band.empty)
    available_share_pct: Band = field(default_factory=Band.empty)


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """A result and the curves behind it: one run of the core gives both."""

    result: Result
    curves: Curves
