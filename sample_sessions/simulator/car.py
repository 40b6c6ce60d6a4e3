"""The invented car: what it takes to move it, and how it lets go at the bottom."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

SPEEDOMETER_RATIO = 1.025  # shown against true: never below 1 by UN R39, 5.3


@dataclass(frozen=True, slots=True)
class Fade:
    """What the car still gives from so much energy past zero on."""

    energy_past_zero_kwh: float
    cap_mps: float
    power_kw: float


@cache
def _whole(power_kw: float) -> Fade:
    return Fade(-math.inf, math.inf, power_kw)


@dataclass(frozen=True, slots=True)
class Car:
    """Truth about the car. Energies are net, at the pack's terminals."""

    usable_kwh: float = 58.0
    a_n: float = 118.0
    b_n_per_mps: float = 1.3
    c_n_per_mps2: float = 0.43
    driveline_efficiency: float = 0.89
    regeneration_efficiency: float = 0.62
    mass_kg: float = 1850.0
    auxiliary_kw: float = 0.65
    auxiliary_reduced_kw: float = 0.3  # once comfort is cut
    full_power_kw: float = 90.0
    start_soc_pct: float = 6.2
    shown_zero_below_pct: float = 0.5  # the display rounds
    reserve_kwh: float = 0.86  # from 0 % shown to the end of propulsion
    zero_range_after_kwh: float = 0.05
    comfort_cut_after_kwh: float = 0.2
    fades: tuple[Fade, ...] = ()
    warnings: tuple[tuple[float, str], ...] = ()  # energy past zero (kWh), what the car says
    shut_down_at_soc_pct: float | None = None  # before zero, without warning
    meter_ratio: float = 1.004  # its trip meter against the ground
    speedometer_ratio: float = SPEEDOMETER_RATIO
    range_kwh_per_km: float = 0.15
    charging_efficiency: float = 0.92

    @property
    def start_kwh(self) -> float:
        """In the pack at the start of the drive, above where its display would say nothing."""
        return self.usable_kwh * self.start_soc_pct / 100

    @property
    def zero_at_kwh(self) -> float:
        """Energy drawn since the start at which the display falls to 0 %."""
        return self.start_kwh - self.usable_kwh * self.shown_zero_below_pct / 100

    @property
    def off_at_kwh(self) -> float:
        """Energy drawn since the start at which propulsion ends."""
        if self.shut_down_at_soc_pct is not None:
            return self.start_kwh - self.usable_kwh * self.shut_down_at_soc_pct / 100
        return self.zero_at_kwh + self.reserve_kwh

    def force_n(self, v_mps: float, headwind_mps: float) -> float:
        """Resistance on the level. Wind acts on the term in v²."""
        air = v_mps + headwind_mps
        return self.a_n + self.b_n_per_mps * v_mps + self.c_n_per_mps2 * air * abs(air)

    def road_load_kw(self, v_mps: float) -> float:
        """Power at the wheels at steady speed without wind."""
        return self.force_n(v_mps, 0.0) * v_mps / 1000

    def pack_kw(self, wheel_kw: float, auxiliary_kw: float) -> float:
        """From the pack, for so much at the wheels; braking gives some of it back."""
        driven = wheel_kw > 0
        share = 1 / self.driveline_efficiency if driven else self.regeneration_efficiency
        return wheel_kw * share + auxiliary_kw

    def fade(self, past_zero_kwh: float) -> Fade:
        """What it gives at so much energy past zero (negative: before)."""
        now = _whole(self.full_power_kw)
        for fade in self.fades:
            if past_zero_kwh >= fade.energy_past_zero_kwh:
                now = fade
        return now

    def soc_pct(self, drawn_kwh: float) -> float:
        """True state of charge, on the display's scale; below 0 in the reserve."""
        return 100 * (self.start_kwh - drawn_kwh) / self.usable_kwh
