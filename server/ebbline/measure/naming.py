"""Words for what findings speak of: records by what they are and when, never by their ids, and
figures that a reader gets on his own clock and in his units.

Ids stand in a finding's ``where``, by which a desk finds the records.
"""

from __future__ import annotations

from datetime import UTC, datetime

from ebbline.records.evidence import Event, Reading
from ebbline.records.phrases import marked
from ebbline.vocabulary import event_name, reading_name

_KILOMETRES_FROM_M = 10_000.0


def named(name: str, t_s: float) -> str:
    """A record by its name and the moment (seconds since the epoch) it reports."""
    return f"\u201c{name}\u201d at {clock_time(t_s)}"


def stamped(record: Event | Reading) -> str:
    """A record as it was stamped, by its device's own clock."""
    if isinstance(record, Event):
        return named(event_name(record.kind), record.t_ms / 1000)
    return named(reading_name(record.quantity), record.t_ms / 1000)


def clock_time(t_s: float) -> str:
    """A moment in seconds since the epoch, to the nearest second."""
    told = datetime.fromtimestamp(round(t_s), UTC)
    return marked("t_ms", 1000 * t_s, f"{told:%H:%M:%S} UTC")


def day_time(t_s: float) -> str:
    """A moment with its day, to the minute."""
    told = datetime.fromtimestamp(round(t_s), UTC)
    return marked("day_ms", 1000 * t_s, f"{told:%Y-%m-%d %H:%M} UTC")


def duration(lasting_s: float) -> str:
    """A time of minutes, hours and days as somebody would say it."""
    days, minutes = divmod(round(lasting_s / 60), 24 * 60)
    hours, minutes = divmod(minutes, 60)
    parts = ((days, "d"), (hours, "h"), (minutes, "min"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count) or "0 min"


def length(distance_m: float, decimals: int = 0) -> str:
    """A distance as somebody would say it: metres, from ten kilometres on kilometres."""
    if distance_m < _KILOMETRES_FROM_M:
        return marked("distance_m", distance_m, f"{distance_m:.{decimals}f} m")
    return marked("distance_m", distance_m, f"{distance_m / 1000:.0f} km")


def speed(speed_mps: float) -> str:
    """A speed to the nearest km/h."""
    return marked("speed_mps", speed_mps, f"{3.6 * speed_mps:.0f} km/h")


def lasting(duration_s: float) -> str:
    """A time as somebody would say it, from seconds up."""
    return f"{duration_s:.0f} s" if duration_s < 120 else duration(duration_s)
