"""Energy taken in until the display showed each per cent, and until it left 0 %."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ebbline.measure import quantity
from ebbline.measure.display import edge_of, shown_soc_pct
from ebbline.measure.recharge.curve import ChargeCurve
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.records.result import Finding, Quantity, SocEnergy
from ebbline.records.setup import Pack, Protocol

# Share of the energy counted on the charger's side that reaches the pack, when the protocol
# states none (common practice, no source).
USUAL_EFFICIENCY = (0.93, 0.03)
STATED_EFFICIENCY_SD = 0.01


@dataclass(frozen=True, slots=True)
class SocStep:
    """The display first showed ``soc_pct`` between two moments."""

    soc_pct: float
    after_s: float
    by_s: float
    sd_s: float


def soc_steps(events: Events, readings: list[TimedReading], after_s: float) -> list[SocStep]:
    """When each displayed per cent above what it woke with was first shown."""
    noted = [
        (timed.moment, float(timed.reading.value), edge_of(timed.reading) is not None)
        for timed in readings
        if timed.reading.quantity == "soc"
        and timed.reading.value is not None
        and timed.moment.t_s > after_s
    ]
    noted += [
        (timed.moment, soc_pct, True)
        for timed in events
        if timed.moment.t_s > after_s and (soc_pct := shown_soc_pct(timed.event)) is not None
    ]
    noted.sort(key=lambda entry: entry[0].t_s)
    steps: list[SocStep] = []
    highest = 0.0 if events.first("zero_soc") is not None else -math.inf
    previous = Moment(after_s, 0.0)
    for moment, soc_pct, at_change in noted:
        if soc_pct > highest and math.isfinite(highest):
            after = moment.t_s if at_change else previous.t_s
            steps.append(SocStep(soc_pct, after, moment.t_s, moment.sd_s))
        highest = max(highest, soc_pct)
        previous = moment
    return steps


def energy_to_soc(curve: ChargeCurve, steps: list[SocStep]) -> tuple[SocEnergy, ...]:
    """Energy since plug-in when the display first showed each per cent, where it is known.

    Noted at the change it is the energy then; noted later it lies between the energy at the
    note before and at this one.
    """
    found = [(step.soc_pct, curve.taken_in(step.after_s, step.by_s, step.sd_s)) for step in steps]
    return tuple(SocEnergy(soc_pct, taken) for soc_pct, taken in found if taken is not None)


def below_zero(
    events: Events, to_soc: tuple[SocEnergy, ...], pack: Pack, protocol: Protocol
) -> tuple[Quantity | None, list[Finding]]:
    """Energy into the pack until the display left 0 %, by the stated charging efficiency.

    The display went from 1 to 0 on the way down and from 0 to 1 on the way up at the same
    charge, whichever way it rounds. If the first per cent noted is higher, what lies between
    is taken off at the pace of the other steps, or of the pack's usable energy.
    """
    if events.first("zero_soc") is None or not to_soc:
        return None, []
    first = to_soc[0]
    value, sd = first.energy_kwh.value, quantity.sd_of(first.energy_kwh)
    findings = []
    stated = protocol.charging_efficiency
    efficiency, efficiency_sd = (
        USUAL_EFFICIENCY if stated is None else (stated, STATED_EFFICIENCY_SD)
    )
    if first.soc_pct > 1:
        pace = _per_cent_kwh(to_soc, pack, efficiency)
        if pace is None:
            return None, [_first_step_too_high(first.soc_pct)]
        value -= (first.soc_pct - 1) * pace[0]
        sd = math.hypot(sd, (first.soc_pct - 1) * pace[1])
    if stated is None:
        findings.append(
            Finding(
                "note",
                "efficiency_assumed",
                f"No charging efficiency is stated; {efficiency:.2f} ± {2 * efficiency_sd:.2f} is "
                f"assumed for the energy recharged below zero.",
                "protocol.charging_efficiency",
            )
        )
    doubt = math.hypot(sd * efficiency, value * efficiency_sd)
    return quantity.normal(value * efficiency, doubt, floor=0.0), findings


def _per_cent_kwh(
    to_soc: tuple[SocEnergy, ...], pack: Pack, efficiency: float
) -> tuple[float, float] | None:
    """Charger-side energy of one displayed per cent and its standard deviation."""
    if len(to_soc) >= 2:
        first, last = to_soc[0], to_soc[-1]
        span = last.soc_pct - first.soc_pct
        sd = math.hypot(quantity.sd_of(first.energy_kwh), quantity.sd_of(last.energy_kwh))
        return (last.energy_kwh.value - first.energy_kwh.value) / span, sd / span
    if pack.usable_kwh:
        pace = pack.usable_kwh / 100 / efficiency
        return pace, 0.1 * pace
    return None


def _first_step_too_high(soc_pct: float) -> Finding:
    return Finding(
        "doubt",
        "first_percent_missed",
        f"The first charge noted after plug-in is {soc_pct:g} %; how much went in before 1 % "
        f"can't be told.",
        "readings of soc",
    )
