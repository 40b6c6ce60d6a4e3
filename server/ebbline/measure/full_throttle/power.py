"""The power that a steady speed takes: at the wheels, and from the pack."""

from __future__ import annotations

import math

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.energy.expected import (
    AUXILIARY_SD,
    AUXILIARY_W,
    GRAVITY_MPS2,
    MASS_KG,
    USUAL_EFFICIENCY,
    road_load_w,
)
from ebbline.records.result import Quantity
from ebbline.records.setup import RoadLoad, Vehicle

ROAD_LOAD_SD = 0.05  # of a stated road load: wind, surface, mass (common practice, no source)
STATED_EFFICIENCY_SD = 0.02  # of a driveline's efficiency (common practice, no source)
USUAL_EFFICIENCY_SD = 0.05
STATED_MASS_SD = 0.02  # of a car's mass as driven: people, luggage (common practice, no source)
USUAL_MASS_SD = 0.15


def road_load_kw(speed: Quantity, road_load: RoadLoad) -> Quantity | None:
    """Power at the wheels on level ground: force times speed, to first order."""
    v = speed.value
    power_kw = float(road_load_w(road_load, np.array([v]))[0]) / 1000
    slope = road_load.a_n + 2 * road_load.b_n_per_mps * v + 3 * road_load.c_n_per_mps2 * v**2
    from_speed = slope * quantity.sd_of(speed) / 1000
    return quantity.normal(power_kw, math.hypot(from_speed, ROAD_LOAD_SD * power_kw), floor=0.0)


def wheels_kw(
    level: Quantity, speed: Quantity, grade: Quantity | None, vehicle: Vehicle
) -> Quantity | None:
    """Power at the wheels: on level ground, and lifting the car's mass up the grade.

    Downhill it may be less than nothing, where the brakes or the motor hold the car.
    """
    if grade is None:
        return level
    mass_sd = STATED_MASS_SD if vehicle.mass_kg else USUAL_MASS_SD
    per_pct_kw = climb_kw_per_pct(speed, vehicle)
    climb_kw = per_pct_kw * grade.value
    sd_kw = math.hypot(
        per_pct_kw * quantity.sd_of(grade), climb_kw * mass_sd, quantity.sd_of(level)
    )
    return quantity.normal(level.value + climb_kw, sd_kw)


def climb_kw_per_pct(speed: Quantity, vehicle: Vehicle) -> float:
    """Power that each % of grade takes at a speed."""
    return (vehicle.mass_kg or MASS_KG) * GRAVITY_MPS2 * speed.value / 100 / 1000


def pack_kw(wheels: Quantity, road_load: RoadLoad) -> Quantity | None:
    """Power from the pack: that at the wheels over the efficiency, and the auxiliaries."""
    stated = road_load.driveline_efficiency
    efficiency = quantity.normal(
        stated or USUAL_EFFICIENCY, STATED_EFFICIENCY_SD if stated else USUAL_EFFICIENCY_SD
    )
    driving = quantity.ratio(wheels, efficiency)
    if driving is None:
        return None
    beside_kw = AUXILIARY_W / 1000
    sd_kw = math.hypot(quantity.sd_of(driving), AUXILIARY_SD * beside_kw)
    return quantity.normal(driving.value + beside_kw, sd_kw, floor=0.0)
