"""What the car's display shows, cut or rounded as displays do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from simulator.car import Car
from simulator.drive import Drive
from simulator.recharge import Charge

METRES_PER = {"km": 1000.0, "mi": 1609.344}

CHANGES_WITHIN_S = 0.01  # a change is found to this, never before it happened

Rounding = Literal["nearest", "down"]


@dataclass(frozen=True, slots=True)
class Shown:
    """One figure as the display had it."""

    value: float
    unit: str
    resolution: float
    rounding: Rounding


@dataclass(frozen=True, slots=True, eq=False)
class Display:
    """The car's display over the whole session; all figures from the truth at that moment."""

    car: Car
    drive: Drive
    charge: Charge | None = None
    reset_s: float | None = None  # trip reset within the recording
    trip_before_m: float = 48_300.0  # since the reset before it
    energy_before_kwh: float = 7.4
    odometer_m: float = 3_120_400.0
    unit: Literal["km", "mi"] = "km"
    energy_rounding: Rounding = "nearest"
    charge_power_step_kw: float = 0.1

    def show(self, quantity: str, t_s: float) -> Shown:
        """A quantity of the session file at a moment."""
        drawn_kwh = float(self.drive.at(self.drive.drawn_kwh, t_s))
        past_zero_kwh = drawn_kwh - self.car.zero_at_kwh
        energy_kwh, trip_m = self._trip(t_s)
        metres = METRES_PER[self.unit]
        if quantity == "soc":
            return _cut(max(self._soc_pct(t_s), 0.0), "%", 1.0, "nearest")
        if quantity == "trip_energy":
            return _cut(energy_kwh, "kWh", 0.1, self.energy_rounding)
        if quantity == "trip_distance":
            return _cut(trip_m / metres, self.unit, 0.1, "down")
        if quantity == "mean_consumption" and self.unit == "km":
            return _cut(energy_kwh / trip_m * 1e5, "kWh/100km", 0.1, "nearest")
        if quantity == "mean_consumption":
            return _cut(trip_m / metres / energy_kwh, "mi/kWh", 0.1, "nearest")
        if quantity == "odometer":
            at_m = self.odometer_m + self._driven_m(t_s)
            return _cut(at_m / metres, self.unit, 1.0, "down")
        if quantity == "range_shown":
            left_kwh = max(self.car.zero_range_after_kwh - past_zero_kwh, 0.0)
            left_m = left_kwh / self.car.range_kwh_per_km * 1000
            return Shown(float(math.ceil(left_m / metres)), self.unit, 1.0, "nearest")
        if quantity == "power_available":
            power_kw = float(self.drive.at(self.drive.power_available_kw, t_s))
            return _cut(power_kw, "kW", 1.0, "down")
        if quantity == "pack_voltage":
            return _cut(96 * (3.32 + 0.045 * self._soc_pct(t_s)), "V", 1.0, "nearest")
        assert self.charge is not None
        if quantity == "charge_power":
            power_kw = float(self.charge.at(self.charge.power_kw, t_s))
            return _cut(power_kw, "kW", self.charge_power_step_kw, "nearest")
        assert quantity == "charge_energy"
        return _cut(float(self.charge.at(self.charge.energy_in_kwh, t_s)), "kWh", 0.1, "nearest")

    def changes_s(self, quantity: str, from_s: float, to_s: float) -> list[float]:
        """When the display changed to another figure, but by a reset."""
        found = []
        t_s = from_s
        value = self.show(quantity, t_s).value
        while t_s + 1 <= to_s:
            later = self.show(quantity, t_s + 1).value
            was_reset = self.reset_s is not None and t_s < self.reset_s <= t_s + 1
            if later != value and not was_reset:
                found.append(self._changed_s(quantity, t_s, t_s + 1))
            t_s, value = t_s + 1, later
        return found

    def _changed_s(self, quantity: str, before_s: float, after_s: float) -> float:
        value = self.show(quantity, before_s).value
        while after_s - before_s > CHANGES_WITHIN_S:
            middle_s = (before_s + after_s) / 2
            if self.show(quantity, middle_s).value == value:
                before_s = middle_s
            else:
                after_s = middle_s
        return after_s

    def _driven_m(self, t_s: float) -> float:
        """By the car's own meter, since the start of the recording."""
        s_m = float(self.drive.at(self.drive.s_m, t_s))
        return (s_m - float(self.drive.s_m[0])) * self.car.meter_ratio

    def _trip(self, t_s: float) -> tuple[float, float]:
        """Energy (kWh) and distance (m) since the last trip reset."""
        drawn_kwh, driven_m = float(self.drive.at(self.drive.drawn_kwh, t_s)), self._driven_m(t_s)
        if self.reset_s is None or t_s < self.reset_s:
            return self.energy_before_kwh + drawn_kwh, self.trip_before_m + driven_m
        at_reset_kwh = float(self.drive.at(self.drive.drawn_kwh, self.reset_s))
        return drawn_kwh - at_reset_kwh, driven_m - self._driven_m(self.reset_s)

    def _soc_pct(self, t_s: float) -> float:
        if self.charge is not None and t_s >= self.charge.plug_in_s:
            return float(self.charge.at(self.charge.soc_pct, t_s))
        return self.car.soc_pct(float(self.drive.at(self.drive.drawn_kwh, t_s)))


def _cut(value: float, unit: str, resolution: float, rounding: Rounding) -> Shown:
    steps = value / resolution
    whole = math.floor(steps) if rounding == "down" else math.floor(steps + 0.5)
    return Shown(round(whole * resolution, 6), unit, resolution, rounding)
