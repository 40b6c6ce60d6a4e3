"""Facts told beside the tables: a speed last held, the pack's voltage at its turns."""

from __future__ import annotations

from ebbline.records.result import HeldAt
from ebbline.report.content import Facts
from ebbline.report.figures import EN_DASH, NO_BREAK, number
from ebbline.report.subject import Subject

_VOLTAGES = {
    "shut_off": "Pack voltage at shut-off",
    "rested": "Pack voltage rested",
    "precharged": "Pack voltage after precharge",
    "trickle": "Pack voltage on the trickle",
}


def held_speed(subject: Subject) -> Facts | None:
    """When the speed that was asked for was last held, and first not; None where nobody asked."""
    asked = subject.result.held_speed
    if asked is None:
        return None
    speed = subject.units.plain("speed", asked.speed_mps, 0)
    return Facts(
        (
            (f"{speed} last held", _place(subject, asked.last_held)),
            (f"{speed} first not held", _place(subject, asked.first_not_held)),
        )
    )


def pack_voltage(subject: Subject) -> list[tuple[str, str]]:
    """The voltage at each turn that a reading tells of, by the cell where their number is known."""
    rows = []
    for entry in subject.result.pack_voltage:
        said = _volts(entry.volts.value, entry.volts.low, entry.volts.high, 1)
        if entry.per_cell_v:
            each = entry.per_cell_v
            said += f"; {_volts(each.value, each.low, each.high, 3)} per cell"
        rows.append((_VOLTAGES[entry.moment], f"{said}, at {subject.clock(entry.t_ms)}"))
    return rows


def voltages(subject: Subject) -> Facts | None:
    """The same where there is no recharge to stand beside."""
    rows = pack_voltage(subject)
    return Facts(tuple(rows)) if rows else None


def _volts(value: float, low: float, high: float, decimals: int) -> str:
    shown = [number(part, decimals) for part in (value, low, high)]
    return f"{shown[0]}{NO_BREAK}V ({shown[1]}{EN_DASH}{shown[2]})"


def _place(subject: Subject, at: HeldAt | None) -> str:
    if at is None:
        return "not on record"
    units = subject.units
    figures = [
        figure.text
        for figure in (
            units.figure("distance", at.past_zero_m),
            units.figure("energy", at.energy_past_zero_kwh),
        )
        if figure is not None
    ]
    where = f"{' and '.join(figures)} past zero" if figures else "no zero to count from"
    return f"{where}, at {subject.clock(at.t_ms)}"
