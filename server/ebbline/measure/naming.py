"""Words for what findings speak of: records by what they are and when, never by their ids.

Ids stand in a finding's ``where``, by which a desk finds the records.
"""

from __future__ import annotations

from datetime import UTC, datetime

from ebbline.records import Event, Reading

EVENT_NAMES = {
    "soc_step": "Displayed % stepped",
    "zero_soc": "0 % shown",
    "zero_range": "0 range shown",
    "trip_reset": "Trip reset",
    "warning": "Warning",
    "floored_on": "Throttle floored",
    "floored_off": "Throttle released",
    "speed_capped": "Top speed capped",
    "power_limited": "Power limited",
    "assist_change": "Assistance changed",
    "comfort_cut": "Comfort reduced",
    "hazards_on": "Hazard lights on",
    "propulsion_off": "Propulsion off",
    "standstill": "Standstill",
    "contactors_open": "Contactors open",
    "contactors_closed": "Contactors closed",
    "plug_in": "Plugged in",
    "charge_start": "Charging starts",
    "charge_end": "Charging ends",
    "lap_mark": "Lap mark",
    "film_sync": "Film sync",
    "note": "Note",
}
READING_NAMES = {
    "trip_energy": "Trip energy",
    "trip_distance": "Trip distance",
    "mean_consumption": "Mean consumption",
    "soc": "Displayed %",
    "range_shown": "Range shown",
    "power_available": "Power available",
    "pack_voltage": "Pack voltage",
    "cell_voltage_min": "Lowest cell voltage",
    "cell_voltage_max": "Highest cell voltage",
    "charge_power": "Charging power",
    "charge_energy": "Energy charged",
    "battery_temperature": "Battery temperature",
    "ambient_temperature": "Outside temperature",
    "odometer": "Odometer",
}
_KILOMETRES_FROM_M = 10_000.0


def event_name(kind: str) -> str:
    """Words for an event kind; one we don't know is shown as it is written."""
    return EVENT_NAMES.get(kind, kind.replace("_", " "))


def reading_name(quantity: str) -> str:
    """Words for a reading's quantity."""
    return READING_NAMES.get(quantity, quantity.replace("_", " "))


def named(name: str, t_s: float) -> str:
    """A record by its name and the moment (seconds since the epoch) it reports."""
    return f"\u201c{name}\u201d at {clock_time(t_s)} UTC"


def stamped(record: Event | Reading) -> str:
    """A record as it was stamped, by its device's own clock."""
    if isinstance(record, Event):
        return named(event_name(record.kind), record.t_ms / 1000)
    return named(reading_name(record.quantity), record.t_ms / 1000)


def clock_time(t_s: float) -> str:
    """A moment in seconds since the epoch as hh:mm:ss, UTC, to the nearest second."""
    return datetime.fromtimestamp(round(t_s), UTC).strftime("%H:%M:%S")


def length(distance_m: float) -> str:
    """A distance as somebody would say it: metres, from ten kilometres on kilometres."""
    if distance_m < _KILOMETRES_FROM_M:
        return f"{distance_m:.0f} m"
    return f"{distance_m / 1000:.0f} km"
