"""Every quantity of a display."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from ebbline.vocabulary.kinds import ReadingKind

# In the order in which the pad offers them behind a phase's first ones.
READINGS: Mapping[str, ReadingKind] = MappingProxyType(
    {
        "trip_energy": ReadingKind(
            "Trip energy",
            ("kWh",),
            0.1,
            on_pad=True,
            places={"past": 1, "fading": 1, "off": 1},
        ),
        "trip_distance": ReadingKind(
            "Trip distance",
            ("km", "mi"),
            0.1,
            low=0,
            on_pad=True,
            places={"past": 2, "fading": 2, "off": 2},
            only_rises=True,
        ),
        "soc": ReadingKind(
            "Displayed charge",
            ("%",),
            1.0,
            low=0,
            high=100,
            on_pad=True,
            places={"before": 1, "charging": 3},
        ),
        "range_shown": ReadingKind(
            "Range shown", ("km", "mi"), 1.0, on_pad=True, places={"before": 2, "charging": 5}
        ),
        "power_available": ReadingKind(
            "Power available", ("kW", "%"), 1.0, on_pad=True, places={"fading": 3}
        ),
        "mean_consumption": ReadingKind(
            "Mean consumption",
            ("kWh/100km", "Wh/km", "Wh/mi", "mi/kWh", "km/kWh"),
            0.1,
            on_pad=True,
            per_mile="mi/kWh",
            resolution_in={"Wh/km": 1.0, "Wh/mi": 1.0},
        ),
        "pack_voltage": ReadingKind(
            "Pack voltage",
            ("V",),
            1.0,
            low=0,
            on_pad=True,
            places={"off": 3, "charging": 4},
        ),
        "aux_voltage": ReadingKind(
            "12 V battery", ("V",), 0.1, low=0, on_pad=True, places={"off": 4}
        ),
        "odometer": ReadingKind("Odometer", ("km", "mi"), 1.0, low=0, on_pad=True, only_rises=True),
        "charge_power": ReadingKind(
            "Charging power", ("kW",), 1.0, on_pad=True, places={"charging": 1}
        ),
        "charge_energy": ReadingKind(
            "Energy charged",
            ("kWh",),
            0.1,
            on_pad=True,
            places={"charging": 2},
            only_rises=True,
        ),
        "cell_voltage_min": ReadingKind("Lowest cell voltage", ("V",), 0.001, low=0, on_pad=True),
        "cell_voltage_max": ReadingKind("Highest cell voltage", ("V",), 0.001, low=0, on_pad=True),
        "battery_temperature": ReadingKind("Battery temperature", ("degC",), 1.0, on_pad=True),
        "ambient_temperature": ReadingKind("Outside temperature", ("degC",), 1.0, on_pad=True),
    }
)
