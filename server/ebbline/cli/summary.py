"""A result as a person reads it in a terminal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from ebbline.engine import engine_id
from ebbline.measure.units import factor
from ebbline.records.result import Quantity, Result, TimelineEntry
from ebbline.report import figures as report
from ebbline.report.session_clock import SessionClock
from ebbline.report.telling import told
from ebbline.vocabulary import event_name, event_words, zero_name


@dataclass(frozen=True, slots=True)
class Units:
    """How distances, speeds and consumption are shown; SI times 1/scale."""

    distance: report.Choice
    distance_m: float
    speed: str
    speed_mps: float
    consumption: str
    consumption_wh_per_km: float


UNITS = {
    "km": Units("km", factor("km", "m"), "km/h", factor("km/h", "m/s"), "Wh/km", 1.0),
    "mi": Units(
        "mi", factor("mi", "m"), "mph", factor("mph", "m/s"), "Wh/mi", factor("Wh/mi", "Wh/km")
    ),
}
STYLES = {"error": "bold red", "doubt": "yellow", "note": "dim"}


def show(result: Result, document: dict[str, Any], units: Units, console: Console) -> None:
    """Print headline figures, the timeline ladder and the findings."""
    title = document["session"].get("title") or result.session_id
    console.print(Text(f"{title}  ({engine_id()})", style="bold"))
    console.print(_headline(result, units))
    if result.timeline:
        console.print(_ladder(result, document, units))
    for finding in result.findings:
        said = told(finding, SessionClock.of(document), report.Units(units.distance))
        style = STYLES[finding.severity]
        console.print(Text(f"{finding.severity}: {said} [{finding.where}]", style=style))


def figure(quantity: Quantity | None, scale: float = 1.0) -> str:
    """A quantity as 'value (low to high)', to two digits of its interval's half width."""
    if quantity is None:
        return "not known"
    value, low, high = _scaled(quantity, scale)
    return f"{value} ({low} to {high})"


def short_figure(quantity: Quantity | None, scale: float = 1.0) -> str:
    """The same as 'value ± half width', or with both sides where they differ."""
    if quantity is None:
        return "–"
    value, low, high = map(float, shown := _scaled(quantity, scale))
    decimals = len(shown[0].partition(".")[2])
    up, down = f"{high - value:.{decimals}f}", f"{value - low:.{decimals}f}"
    if float(up) == float(down) == 0:
        return shown[0]
    if abs(float(up) - float(down)) < 1.5 * 10.0**-decimals:  # no more than rounding
        return f"{shown[0]} ±{max(up, down)}"
    return f"{shown[0]} +{up} −{down}"


def _scaled(quantity: Quantity, scale: float) -> list[str]:
    """Value, low and high, to two digits of the interval's half width."""
    parts = [part / scale for part in (quantity.value, quantity.low, quantity.high)]
    half_width = (parts[2] - parts[1]) / 2
    decimals = 3 if half_width <= 0 else max(0, min(6, 1 - math.floor(math.log10(half_width))))
    return [f"{part:.{decimals}f}" for part in parts]


def _headline(result: Result, units: Units) -> Table:
    table = Table("figure", "value (95 % interval)", "unit", box=SIMPLE_HEAD)
    reserve, zero, recharge = result.reserve, result.zero, result.recharge

    def row(name: str, quantity: Quantity | None, unit: str, scale: float = 1.0) -> None:
        table.add_row(name, figure(quantity, scale), unit)

    row("driven in all", result.distance.total_m, units.distance, units.distance_m)
    table.add_row("zero is", zero_name(zero.basis) or "not known", "")
    row("reserve: distance", reserve.distance_m, units.distance, units.distance_m)
    row("reserve: energy", reserve.energy_kwh, "kWh")
    row("reserve: duration", reserve.duration_s, "min", 60.0)
    row("reserve: share of usable energy", reserve.share_of_usable_pct, "%")
    table.add_row(
        "reserve ends at", event_name(reserve.ends_at) if reserve.ends_at else "not known", ""
    )
    for which, end in (("first", reserve.first_end), ("last", reserve.last_end)):
        if end is not None:
            row(f"to the {which} shut-off", end.distance_m, units.distance, units.distance_m)
            row(f"to the {which} shut-off", end.energy_kwh, "kWh")
    table.add_row("shut down before zero", "yes" if reserve.shut_down_before_zero else "no", "")
    row(
        "consumption past zero",
        result.consumption.past_zero_wh_per_km,
        units.consumption,
        units.consumption_wh_per_km,
    )
    if result.held_speed:
        speed = f"{result.held_speed.speed_mps / units.speed_mps:.0f} {units.speed}"
        for words, at in (("last held", result.held_speed.last_held),
                          ("first not held", result.held_speed.first_not_held)):  # fmt: skip
            past_m, past_kwh = (at.past_zero_m, at.energy_past_zero_kwh) if at else (None, None)
            row(f"{speed} {words}: past zero", past_m, units.distance, units.distance_m)
            row(f"{speed} {words}: past zero", past_kwh, "kWh")
    for voltage in result.pack_voltage:
        row(f"pack voltage, {voltage.moment.replace('_', ' ')}", voltage.volts, "V")
    if result.lap_check:
        row("lap, by GPS", result.lap_check.measured_m, units.distance, units.distance_m)
        row("lap, measured : surveyed", result.lap_check.ratio, "")
        table.add_row("lap agrees", "yes" if result.lap_check.agrees else "NO", "")
    if result.trip_check:
        row("trip meter : track", result.trip_check.ratio, "")
        table.add_row("trip meter agrees", "yes" if result.trip_check.agrees else "NO", "")
    if recharge:
        row("recharge: energy in", recharge.energy_in_kwh, "kWh")
        row("recharge: put back up to 0 %", recharge.below_zero_kwh, "kWh")
        row("recharge: slow charging", recharge.trickle_s, "s")
    if result.power_log:
        logged = result.power_log
        row(f"reserve: energy, by {logged.source} logged", logged.reserve_kwh, "kWh")
        if logged.against_display:
            row("log : display", logged.against_display.ratio, "")
            table.add_row("log agrees", "yes" if logged.against_display.agrees else "NO", "")
    if result.balance and result.balance.agrees is not None:
        table.add_row("out and in agree", "yes" if result.balance.agrees else "NO", "")
    return table


def _ladder(result: Result, document: dict[str, Any], units: Units) -> Table:
    texts = {event["id"]: event for event in document.get("events") or []}
    clock = SessionClock.of(document)
    table = Table(
        f"at ({clock.name})",
        "event",
        f"past zero, {units.distance}",
        "past zero, kWh",
        f"left, {units.distance}",
        "left, kWh",
        f"speed, {units.speed}",
        title="Timeline (± and + −: 95 % interval; left: until the car stopped)",
        box=SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
    )
    for entry in result.timeline:
        table.add_row(
            clock.time_of_day(entry.at_ms.value),
            _event(entry, texts.get(entry.event_id, {})),
            short_figure(entry.past_zero_m, units.distance_m),
            short_figure(entry.energy_past_zero_kwh),
            short_figure(entry.left_m, units.distance_m),
            short_figure(entry.left_kwh),
            short_figure(entry.speed_mps, units.speed_mps),
        )
    return table


def _event(entry: TimelineEntry, raw: dict[str, Any]) -> str:
    # A kind that we don't know is a note to the core and named as it came.
    kind = raw.get("kind", entry.kind) if entry.kind == "note" else entry.kind
    words = event_words({**raw, "kind": kind}).replace("\u00a0", " ")
    return "".join(c if c.isprintable() else " " for c in words)  # no escapes to the terminal
