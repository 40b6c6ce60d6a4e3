"""The car waking up on the charger: trickle, full power, energy to each displayed per cent."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.display import shown_soc_pct
from ebbline.measure.recharge.curve import ChargeCurve, charge_curve, shown
from ebbline.measure.recharge.levels import level_of
from ebbline.measure.recharge.phases import Phases, find_phases
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.records import (
    Finding,
    Pack,
    Protocol,
    Quantity,
    Recharge,
    SocEnergy,
)

# Share of the energy counted on the charger's side that reaches the pack, when the protocol
# states none (common practice, no source).
USUAL_EFFICIENCY = (0.93, 0.03)
STATED_EFFICIENCY_SD = 0.01


@dataclass(frozen=True, slots=True)
class _SocStep:
    """The display first showed ``soc_pct`` between two moments."""

    soc_pct: float
    after_s: float
    by_s: float
    sd_s: float


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
    start = events.first("charge_start", plug_in.moment.t_s - 1) or plug_in
    after_s = plug_in.moment.t_s - 5.0
    power = shown(readings, "charge_power", after_s)
    counter = shown(readings, "charge_energy", after_s)
    ended = events.last("charge_end")
    last_s = max(
        [start.moment.t_s, *power.t_s, *counter.t_s]
        if ended is None
        else [start.moment.t_s, ended.moment.t_s]
    )
    curve = charge_curve(power, counter, plug_in.moment.t_s, start.moment.t_s, last_s)
    plug_in_ms = round(plug_in.moment.t_s * 1000)
    if curve is None:
        nothing = Recharge(plug_in_ms, None, None, None, None, None, (), None)
        return Charge(nothing), [_no_readings()]
    findings: list[Finding] = []
    phases = find_phases(power)
    if phases is None:
        findings.append(_no_phases())
    steps = _soc_steps(events, readings, plug_in.moment.t_s)
    below_zero, said = _below_zero(events, curve, steps, pack, protocol)
    findings.extend(said)
    mean, sd = curve.energy(np.array([plug_in.moment.t_s]), np.array([last_s]))
    trickle = _trickle(curve, phases, start.moment)
    figures = Recharge(
        plug_in_ms=plug_in_ms,
        trickle_s=trickle[0],
        trickle_kw=trickle[1],
        trickle_kwh=trickle[2],
        full_power_kw=_full_power(curve, phases),
        energy_in_kwh=quantity.normal(float(mean[0]), float(sd[0]), floor=0.0),
        energy_to_soc=tuple(_energy_to(curve, step) for step in steps),
        below_zero_kwh=below_zero,
    )
    return Charge(figures, curve), findings


def _trickle(
    curve: ChargeCurve, phases: Phases | None, start: Moment
) -> tuple[Quantity | None, Quantity | None, Quantity | None]:
    """How long, how strong and how much: from charge start to the power's first rise."""
    if phases is None:
        return None, None, None
    power, last = curve.power, phases.last_trickle
    last_s, next_s = max(float(power.t_s[last]), start.t_s), float(power.t_s[last + 1])
    if next_s <= start.t_s:
        return None, None, None
    # It ended somewhere between the last reading at its level and the next.
    end_s, half_s = (last_s + next_s) / 2, (next_s - last_s) / 2
    end_sd_s = float(np.mean(power.sd_s))
    lasting = quantity.rectangular(
        end_s - start.t_s, half_s, math.hypot(end_sd_s, start.sd_s), floor=0.0
    )
    strength = level_of(power, power.t_s <= last_s)
    # Straight lines between readings would count some of the rise: the last stretch is level.
    mean, sd = curve.energy(np.array([start.t_s]), np.array([last_s]))
    rest_h = (end_s - last_s) / 3600
    level_sd_kw = 0.0 if strength is None else quantity.sd_of(strength)
    # One rounding stands behind the level and the energy, so those add up; where it ended between
    # the two readings is another matter, and a rectangle again.
    level_kwh = float(sd[0]) + level_sd_kw * rest_h
    amount = quantity.rectangular(
        float(mean[0]) + phases.trickle_kw * rest_h,
        phases.trickle_kw * half_s / 3600,
        math.hypot(level_kwh, phases.trickle_kw * end_sd_s / 3600),
        floor=0.0,
    )
    return lasting, strength, amount


def _full_power(curve: ChargeCurve, phases: Phases | None) -> Quantity | None:
    """The level the power settled at; without phases, the mean of all that was shown."""
    power = curve.power
    if power.t_s.size == 0:
        return None
    if phases is None:
        return level_of(power, np.ones(power.t_s.size, dtype=bool))
    return level_of(power, power.t_s >= phases.full_from_s)


def _soc_steps(events: Events, readings: list[TimedReading], after_s: float) -> list[_SocStep]:
    """When each displayed per cent above what it woke with was first shown."""
    noted = [
        (timed.moment, float(timed.reading.value), False)
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
    steps: list[_SocStep] = []
    highest = 0.0 if events.first("zero_soc") is not None else -math.inf
    previous = Moment(after_s, 0.0)
    for moment, soc_pct, at_change in noted:
        if soc_pct > highest and math.isfinite(highest):
            after = moment.t_s if at_change else previous.t_s
            steps.append(_SocStep(soc_pct, after, moment.t_s, moment.sd_s))
        highest = max(highest, soc_pct)
        previous = moment
    return steps


def _energy_to(curve: ChargeCurve, step: _SocStep) -> SocEnergy:
    """Energy since plug-in when the display first showed a per cent.

    Noted at the change it is the energy then; noted later it lies between the energy at the
    note before and at this one.
    """
    at = np.array([step.after_s, step.by_s])
    mean, sd = curve.energy(np.full(2, curve.plug_in_s), at)
    pace = float(curve.power_kw(np.array([step.by_s]))[0]) / 3600
    timing = (pace if math.isfinite(pace) else 0.0) * step.sd_s
    doubt = math.hypot(float(np.max(sd)), timing, float(mean[1] - mean[0]) / math.sqrt(12))
    figure = quantity.normal(float(np.mean(mean)), doubt, floor=0.0)
    if figure is None:  # the curve is finite wherever it was built
        raise AssertionError(step)
    return SocEnergy(step.soc_pct, figure)


def _below_zero(
    events: Events, curve: ChargeCurve, steps: list[_SocStep], pack: Pack, protocol: Protocol
) -> tuple[Quantity | None, list[Finding]]:
    """Energy into the pack until the display left 0 %, by the stated charging efficiency.

    The display went from 1 to 0 on the way down and from 0 to 1 on the way up at the same
    charge, whichever way it rounds. If the first per cent noted is higher, what lies between
    is taken off at the pace of the other steps, or of the pack's usable energy.
    """
    if events.first("zero_soc") is None or not steps:
        return None, []
    first = steps[0]
    to_first = _energy_to(curve, first).energy_kwh
    value, sd = to_first.value, quantity.sd_of(to_first)
    findings = []
    stated = protocol.charging_efficiency
    efficiency, efficiency_sd = (
        USUAL_EFFICIENCY if stated is None else (stated, STATED_EFFICIENCY_SD)
    )
    if first.soc_pct > 1:
        pace = _per_cent_kwh(curve, steps, pack, efficiency)
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
    curve: ChargeCurve, steps: list[_SocStep], pack: Pack, efficiency: float
) -> tuple[float, float] | None:
    """Charger-side energy of one displayed per cent and its standard deviation."""
    if len(steps) >= 2:
        first = _energy_to(curve, steps[0])
        last = _energy_to(curve, steps[-1])
        span = last.soc_pct - first.soc_pct
        sd = math.hypot(quantity.sd_of(first.energy_kwh), quantity.sd_of(last.energy_kwh))
        return (last.energy_kwh.value - first.energy_kwh.value) / span, sd / span
    if pack.usable_kwh:
        pace = pack.usable_kwh / 100 / efficiency
        return pace, 0.1 * pace
    return None


def _no_readings() -> Finding:
    return Finding(
        "note",
        "no_charge_readings",
        "The car was plugged in, but neither charge power nor charged energy was noted.",
        "readings",
    )


def _no_phases() -> Finding:
    return Finding(
        "note",
        "no_trickle",
        "The noted charge power shows no trickle before full power, or too few readings were "
        "made to tell.",
        "readings of charge_power",
    )


def _first_step_too_high(soc_pct: float) -> Finding:
    return Finding(
        "doubt",
        "first_percent_missed",
        f"The first charge noted after plug-in is {soc_pct:g} %; how much went in before 1 % "
        f"can't be told.",
        "readings of soc",
    )
