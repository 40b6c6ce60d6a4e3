"""The car waking up on the charger: trickle, full power, energy to each displayed per cent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.naming import clock_time
from ebbline.measure.recharge.curve import ChargeCurve, charge_curve
from ebbline.measure.recharge.levels import level_of
from ebbline.measure.recharge.power_between import CARRIED_S
from ebbline.measure.recharge.shown import Shown, shown
from ebbline.measure.recharge.soc_energy import below_zero, energy_to_soc, soc_steps
from ebbline.measure.recharge.trickle import trickle_of
from ebbline.measure.time.moments import Events, TimedReading
from ebbline.records.result import Bounds, Finding, Recharge
from ebbline.records.setup import Pack, Protocol


@dataclass(frozen=True, slots=True, eq=False)
class Charge:
    """The recharge's figures and its curve; each is None where there is nothing to say."""

    figures: Recharge | None = None
    curve: ChargeCurve | None = None


def recharge_of(
    events: Events, readings: list[TimedReading], pack: Pack, protocol: Protocol
) -> tuple[Charge, list[Finding]]:
    """All figures of the recharge, from events and readings alone: it needs no drive."""
    plug_in = events.first("plug_in") or events.first("charge_start")
    if plug_in is None:
        return Charge(), []
    plugged_s = plug_in.moment.t_s
    start = events.first("charge_start", plugged_s - 1) or plug_in
    power = shown(readings, "charge_power", plugged_s - 5.0)
    counter = shown(readings, "charge_energy", plugged_s - 5.0)
    ended = events.last("charge_end")
    last_s = max(
        [start.moment.t_s, *power.t_s, *counter.t_s]
        if ended is None
        else [start.moment.t_s, ended.moment.t_s]
    )
    last_sd_s = 0.0 if ended is None else ended.moment.sd_s
    curve = charge_curve(power, counter, plugged_s, start.moment.t_s, last_s)
    if curve is None:
        nothing = Recharge(round(plugged_s * 1000), None, None, None, None, None, (), None)
        return Charge(nothing), [_no_readings()]
    steps = soc_steps(events, readings, plugged_s)
    to_soc = energy_to_soc(curve, steps)
    below_zero_kwh, findings = below_zero(events, to_soc, pack, protocol)
    trickle = trickle_of(curve, start.moment)
    figures = Recharge(
        plug_in_ms=round(plugged_s * 1000),
        trickle_s=trickle.lasted_s,
        trickle_kw=trickle.strength_kw,
        trickle_kwh=trickle.amount_kwh,
        full_power_kw=level_of(power, curve.phases.full),
        energy_in_kwh=curve.taken_in(last_s, last_s, last_sd_s),
        energy_to_soc=to_soc,
        below_zero_kwh=below_zero_kwh,
        highest_kw=_highest(power),
        trickle_end_s=trickle.end_s,
    )
    unknown = last_s > curve.known_until_s or len(to_soc) < len(steps)
    said = [*_on_phases(curve), *([_ends_too_soon(curve)] if unknown else [])]
    return Charge(figures, curve), said + findings


def _highest(power: Shown) -> Bounds | None:
    """The highest power shown: it was no less, and may have been more while nobody looked."""
    if power.t_s.size == 0:
        return None
    most = int(np.argmax(power.middle))
    return Bounds(float(power.middle[most]), float(power.low[most]), None)


def _on_phases(curve: ChargeCurve) -> list[Finding]:
    """What the readings of power don't say."""
    findings = []
    if curve.phases.first_after is None:
        findings.append(
            Finding(
                "note",
                "no_trickle",
                "The noted charge power shows no trickle before full power, or too few readings "
                "were made to tell.",
                "readings of charge_power",
            )
        )
    if curve.power.t_s.size and not np.any(curve.phases.full):
        findings.append(_full_power_not_seen(curve))
    return findings


def _full_power_not_seen(curve: ChargeCurve) -> Finding:
    why = "No two readings of charge power in a row agree on a level after the trickle"
    if curve.phases.first_after == curve.power.t_s.size:
        why = "Every reading of charge power may have been made on the trickle"
    return Finding(
        "note",
        "full_power_not_seen",
        f"{why}, so full power isn't given. The highest shown is "
        f"{float(np.max(curve.power.middle)):g} kW: it was at least that.",
        "readings of charge_power",
    )


def _ends_too_soon(curve: ChargeCurve) -> Finding:
    return Finding(
        "doubt",
        "charge_readings_end",
        f"The charge readings end at {clock_time(curve.known_until_s - CARRIED_S)}, before "
        f"full power was seen to settle: how much was taken in afterwards can't be told.",
        "readings of charge_power",
    )


def _no_readings() -> Finding:
    return Finding(
        "note",
        "no_charge_readings",
        "The car was plugged in, but neither charge power nor charged energy was noted.",
        "readings",
    )
