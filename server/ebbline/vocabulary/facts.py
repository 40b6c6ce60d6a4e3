"""Every fact of a car and of a day that a set-up can state, by its place in it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from ebbline.vocabulary.kinds import Fact

# In the order in which they are asked and told. The car is known by its label, ``vehicle.label``.
# Bounds refuse what no car and no weather has, and what was typed in another unit: a pressure in
# bar or psi, a temperature in degrees Fahrenheit (common practice, no source; temperatures beyond
# the world's records of air, WMO).
FACTS: Mapping[str, Fact] = MappingProxyType(
    {
        "vehicle.pack.usable_kwh": Fact(
            "Usable energy, as stated", "car", "number", "kWh", above=0, high=1000, first=True
        ),
        "vehicle.pack.measured_kwh": Fact(
            "Usable energy, our measure", "car", "number", "kWh", above=0, high=1000
        ),
        "vehicle.pack.measured_sd_kwh": Fact(
            "Our measure, \u00b1 (95 %)", "car", "number", "kWh", low=0, high=1000, spread=True
        ),
        "vehicle.pack.chemistry": Fact("Chemistry", "car", "text"),
        "vehicle.pack.series_cells": Fact("Cells in series", "car", "whole", low=1, high=10_000),
        "vehicle.mass_kg": Fact("Mass as driven", "car", "number", "kg", above=0, high=100_000),
        "vehicle.road_load.a_n": Fact("Road load A", "car", "number", "N"),
        "vehicle.road_load.b_n_per_mps": Fact("Road load B", "car", "number", "N per m/s"),
        "vehicle.road_load.c_n_per_mps2": Fact("Road load C", "car", "number", "N per (m/s)\u00b2"),
        "vehicle.road_load.driveline_efficiency": Fact(
            "Driveline efficiency, 0 to 1", "car", "number", above=0, high=1
        ),
        "vehicle.lender": Fact("Lent by", "car", "text"),
        "vehicle.software": Fact("Software", "car", "text", anew=True),
        "vehicle.odometer_km": Fact(
            "Odometer", "car", "number", "km", low=0, high=10_000_000, anew=True
        ),
        "conditions.full_charge_before": Fact(
            "Charged fully beforehand", "car", "flag", ticked="charged_full", anew=True
        ),
        "conditions.battery_warmed": Fact(
            "Battery warmed", "car", "flag", ticked="pack_warm", anew=True
        ),
        "conditions.pack_c": Fact(
            "Battery temperature", "car", "number", "\u00b0C", low=-90, high=100, anew=True
        ),
        "conditions.tyre_kpa": Fact(
            "Tyre pressure", "car", "number", "kPa", low=100, high=1500, anew=True
        ),
        "conditions.load_kg": Fact(
            "Load, people and luggage", "car", "number", "kg", low=0, high=100_000, anew=True
        ),
        "conditions.drive_mode": Fact("Drive mode", "car", "text", first=True),
        "conditions.disclosure": Fact("Disclosure", "car", "text"),
        "conditions.ambient_c": Fact(
            "Outside temperature",
            "day",
            "number",
            "\u00b0C",
            low=-90,
            high=60,
            first=True,
            anew=True,
        ),
        "conditions.climate": Fact("Climate setting", "day", "text", first=True),
        "conditions.road_c": Fact(
            "Road temperature", "day", "number", "\u00b0C", low=-90, high=100, anew=True
        ),
        "conditions.wind_mps": Fact("Wind", "day", "number", "m/s", low=0, high=120, anew=True),
        "conditions.wind_from_deg": Fact(
            "Wind from", "day", "number", "\u00b0", low=0, high=360, anew=True
        ),
        "conditions.surface": Fact("Surface", "day", "text"),
        "conditions.charger": Fact("Charger", "day", "text"),
    }
)
