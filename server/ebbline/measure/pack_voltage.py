"""The pack's voltage at the turns of the story: shutting off, rested, connected again, trickling.

By readings alone. A reading belongs to a turn by its moment; which of several is said below.
"""

from __future__ import annotations

import math

from ebbline.measure import quantity
from ebbline.measure.display import interval_of
from ebbline.measure.reserve.span import Span
from ebbline.measure.time.moments import Events, TimedReading
from ebbline.records.result import PackVoltage, Recharge
from ebbline.records.setup import Pack

# Common practice, no source: at shut-off the voltage still is what the load made it; a minute
# later it has recovered; connected again it is what precharging brought before current flows.
_AT_SHUT_OFF_S = 120.0
_RESTED_AFTER_S = 60.0
_PRECHARGED_WITHIN_S = 60.0


def pack_voltage_of(
    events: Events,
    span: Span,
    readings: list[TimedReading],
    recharge: Recharge | None,
    pack: Pack,
) -> tuple[PackVoltage, ...]:
    """One entry for each turn that a reading tells of, in their order."""
    own = sorted(
        (timed for timed in readings if timed.reading.quantity == "pack_voltage"),
        key=lambda timed: timed.moment.t_s,
    )
    ended_s = span.ends.of_drive.moment.t_s if span.ends.of_drive else math.nan
    plugged = events.first("plug_in") or events.first("charge_start")
    plugged_s = plugged.moment.t_s if plugged else math.inf
    closed = events.first("contactors_closed", plugged_s - 1.0) or plugged
    closed_s = closed.moment.t_s if closed else math.nan
    started = events.first("charge_start", plugged_s - 1.0)
    started_s = started.moment.t_s if started else plugged_s
    trickle = recharge.trickle_end_s if recharge else None
    trickled_s = started_s + (trickle.low or 0.0) if trickle else math.nan

    def within(from_s: float, to_s: float) -> list[TimedReading]:
        return [timed for timed in own if from_s <= timed.moment.t_s <= to_s]

    found = (
        ("shut_off", within(ended_s - _AT_SHUT_OFF_S, ended_s)[-1:]),
        ("rested", within(ended_s + _RESTED_AFTER_S, min(closed_s, plugged_s)
                          if plugged else math.inf)[-1:]),
        ("precharged", within(closed_s, min(closed_s + _PRECHARGED_WITHIN_S, started_s)
                              if started else closed_s + _PRECHARGED_WITHIN_S)[:1]),
        ("trickle", within(started_s, trickled_s)[-1:]),
    )  # fmt: skip
    return tuple(
        entry
        for moment, chosen in found
        for timed in chosen
        if (entry := _entry(moment, timed, pack)) is not None
    )


def _entry(moment: str, timed: TimedReading, pack: Pack) -> PackVoltage | None:
    volts = quantity.bounds(*interval_of(timed.reading))
    if volts is None:
        return None
    per_cell = quantity.scaled(volts, 1 / pack.series_cells) if pack.series_cells else None
    return PackVoltage(moment, round(timed.moment.t_s * 1000), volts, per_cell)
