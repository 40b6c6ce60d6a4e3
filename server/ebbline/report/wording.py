"""Words for what a session records; the same as in ``pwa/shared/vocabulary.js``."""

from __future__ import annotations

from typing import Any

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
ZERO_NAMES = {
    "zero_soc": "0 % shown",
    "zero_range": "0 range shown",
    "moment": "a moment that was chosen",
}


def event_name(kind: str) -> str:
    """Words for an event kind; one we don't know is shown as it is written."""
    return EVENT_NAMES.get(kind, kind.replace("_", " "))


def reading_name(quantity: str) -> str:
    """Words for a reading's quantity."""
    return READING_NAMES.get(quantity, quantity.replace("_", " "))


def event_words(event: dict[str, Any]) -> str:
    """One event in words: what it was and what was noted with it."""
    kind, value, text = event["kind"], event.get("value"), event.get("text")
    if kind == "soc_step" and value is not None:
        words = f"{value:g} % shown"
    elif kind == "speed_capped" and value is not None:
        words = f"Top speed capped: {value:g} {event.get('unit') or ''} shown".replace("  ", " ")
    elif kind == "warning" and text:
        return f"\u201c{text}\u201d"
    elif kind == "note" and text:
        return str(text)
    else:
        words = event_name(kind)
        if value is not None and kind not in ("zero_soc", "zero_range"):
            words += f": {value:g} {event.get('unit') or ''}".rstrip()
    return f"{words} \u2013 {text}" if text else words
