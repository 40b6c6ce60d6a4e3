"""The true recharge: a car waking up on the charger, from plug-in on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from simulator.car import Car
from simulator.course import FloatArray
from simulator.drive import Drive, Happening

_STEP_S = 0.5


@dataclass(frozen=True, slots=True)
class ChargePlan:
    """How the charge went. Powers are what goes in, before charging losses."""

    plug_in_after_s: float = 300.0  # after the end of the drive
    closed_after_s: float = 22.0  # contactors, after plug-in
    start_after_s: float = 30.0  # after plug-in
    trickle_kw: float = 1.6
    trickle_s: float = 270.0
    ramp_s: float = 45.0
    full_kw: float = 10.9
    wobble_kw: float = 0.02
    until_soc_pct: float = 5.2


@dataclass(frozen=True, slots=True, eq=False)
class Charge:
    """The truth on one time base, shape (k,); times count from the start of the recording."""

    t_s: FloatArray
    power_kw: FloatArray
    energy_in_kwh: FloatArray
    soc_pct: FloatArray
    plug_in_s: float
    start_s: float
    ramp_from_s: float
    full_from_s: float
    happenings: tuple[Happening, ...]

    def at(self, column: FloatArray, t_s: float | FloatArray) -> FloatArray:
        """A column at other times."""
        return np.asarray(np.interp(t_s, self.t_s, column))

    def when_shown(self, soc_pct: int) -> float:
        """When the display first showed so many per cent."""
        return next(h.t_s for h in self.happenings if h.value == soc_pct and h.kind == "soc_step")


def recharge(car: Car, drive: Drive, plan: ChargePlan, rng: np.random.Generator) -> Charge:
    """Charge from where the drive ended up to a state of charge."""
    plug_in_s = float(drive.t_s[-1]) + plan.plug_in_after_s
    start_s = plug_in_s + plan.start_after_s
    ramp_from_s = start_s + plan.trickle_s
    full_from_s = ramp_from_s + plan.ramp_s
    soc_at_start = car.soc_pct(float(drive.drawn_kwh[-1]))
    needed_kwh = (plan.until_soc_pct - soc_at_start) / 100 * car.usable_kwh
    longest_s = full_from_s + needed_kwh / car.charging_efficiency / plan.full_kw * 3600 * 1.1
    t_s = np.arange(plug_in_s, longest_s, _STEP_S)
    power_kw = np.interp(
        t_s,
        [start_s, start_s + 0.1, ramp_from_s, full_from_s],
        [0.0, plan.trickle_kw, plan.trickle_kw, plan.full_kw],
    )
    power_kw += np.where(t_s > start_s, plan.wobble_kw * rng.standard_normal(t_s.size), 0.0)
    steps_kwh = (power_kw[1:] + power_kw[:-1]) / 2 * _STEP_S / 3600
    energy_in_kwh = np.concatenate([[0.0], np.cumsum(steps_kwh)])
    soc_pct = soc_at_start + 100 * car.charging_efficiency * energy_in_kwh / car.usable_kwh
    last = int(np.searchsorted(soc_pct, plan.until_soc_pct)) + 1
    t_s, power_kw, energy_in_kwh, soc_pct = (
        column[:last] for column in (t_s, power_kw, energy_in_kwh, soc_pct)
    )
    happenings = [
        Happening("plug_in", plug_in_s),
        Happening("contactors_closed", plug_in_s + plan.closed_after_s),
        Happening("charge_start", start_s),
    ]
    for shown in range(1, math.floor(soc_pct[-1] + 0.5) + 1):
        when = float(np.interp(shown - 0.5, soc_pct, t_s))
        happenings.append(Happening("soc_step", when, float(shown), "%"))
    happenings.append(Happening("charge_end", float(t_s[-1])))
    return Charge(
        t_s, power_kw, energy_in_kwh, soc_pct, plug_in_s, start_s, ramp_from_s, full_from_s,
        tuple(happenings),
    )  # fmt: skip
