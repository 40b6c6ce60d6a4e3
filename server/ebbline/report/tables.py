"""The report's tables: the ladder of events, full throttle, recharge, laps, readings."""

from __future__ import annotations

from collections.abc import Sequence

from ebbline.measure.time.devices import clocks_of, merged
from ebbline.records.evidence import Reading
from ebbline.records.result import Quantity
from ebbline.report.content import Cell, Row, Table
from ebbline.report.figures import EN_DASH, Dimension
from ebbline.report.subject import Subject
from ebbline.vocabulary import EVENTS, Emphasis, reading_name, unit_name

_A_ROW = 7  # readings beside one another
_NO_FIGURE = Cell(EN_DASH)
SOURCES = {"pad": "typed on the phone", "typed": "typed at the desk", "film": "seen on film"}


def emphasis_of(kind: str) -> Emphasis:
    """How loudly an event is shown."""
    return EVENTS[kind].emphasis if kind in EVENTS else "plain"


def ladder(subject: Subject) -> Table | None:
    """Every event with what lay past zero and what was left; None without events."""
    timeline = [entry for entry in subject.result.timeline if entry.kind != "film_sync"]
    if not timeline:
        return None
    rows = [
        Row(
            (
                Cell(subject.clock(entry.at_ms.value)),
                Cell(subject.words(entry)),
                _cell(subject, "distance", entry.past_zero_m),
                _cell(subject, "energy", entry.energy_past_zero_kwh),
                _cell(subject, "distance", entry.left_m),
                _cell(subject, "energy", entry.left_kwh),
                _cell(subject, "speed", entry.speed_mps),
            ),
            emphasis_of(entry.kind),
        )
        for entry in timeline
    ]
    columns = _columns(
        subject,
        [("Time", None), ("Event", None), ("Past zero", "distance"), ("Past zero", "energy"),
         ("Left", "distance"), ("Left", "energy"), ("Speed", "speed")],
    )  # fmt: skip
    columns = (Cell("Time", subject.zone_name), *columns[1:])
    return Table("Each event where it truly happened, the tap\u2019s delay taken off. "
                 "Small figures: 95 % intervals. Before zero, figures past zero are negative. "
                 "Left: from there until the car stopped.",
                 columns, tuple(rows), words=2)  # fmt: skip


def limits(subject: Subject) -> Table | None:
    """Speed and power at full throttle; None where there was none."""
    if not subject.result.limits:
        return None
    rows = [
        Row(
            (
                Cell(f"{subject.clock(limit.from_ms)}{EN_DASH}{subject.clock(limit.to_ms)}"),
                _cell(subject, "distance", limit.past_zero_m),
                _cell(subject, "energy", limit.energy_past_zero_kwh),
                _cell(subject, "speed", limit.speed_mps),
                _cell(subject, "percent", limit.grade_pct),
                _cell(subject, "power", limit.wheels_kw),
                _cell(subject, "power", limit.pack_kw),
            )
        )
        for limit in subject.result.limits
    ]
    columns = _columns(
        subject,
        [("Floored", None), ("Past zero", "distance"), ("Past zero", "energy"),
         ("Top speed", "speed"), ("Grade", "percent"), ("At the wheels", "power"),
         ("From the pack", "power")],
    )  # fmt: skip
    return Table("The speed the car settled at when floored (full throttle), and the power that "
                 "speed takes: up the grade, or on level ground where no grade is known.",
                 columns, tuple(rows))  # fmt: skip


def recharge_to(subject: Subject) -> Table | None:
    """Energy taken in until each displayed %."""
    recharge = subject.result.recharge
    if recharge is None or not recharge.energy_to_soc:
        return None
    rows = [
        Row((Cell(f"{step.soc_pct:g} %"), _cell(subject, "energy", step.energy_kwh)))
        for step in recharge.energy_to_soc
    ]
    return Table(
        "Energy taken in since plug-in when the display first showed each charge.",
        _columns(subject, [("Display shows", None), ("Taken in", "energy")]),
        tuple(rows),
    )


def laps(subject: Subject) -> Table | None:
    """Every whole lap."""
    if not subject.result.laps:
        return None
    rows = [
        Row(
            (
                Cell(str(lap.number), subject.clock(lap.from_ms)),
                _cell(subject, "distance", lap.length_m),
                _cell(subject, "duration", lap.duration_s),
                _cell(subject, "energy", lap.energy_kwh),
            )
        )
        for lap in subject.result.laps
    ]
    columns = _columns(
        subject,
        [("Lap", None), ("Length", "distance"), ("Time", "duration"), ("Energy", "energy")],
    )
    return Table("Laps from start line to start line.", columns, tuple(rows))


def readings(subject: Subject) -> Table | None:
    """Every reading that counts: for each display what it showed and when, in order of time."""
    if not subject.readings:
        return None
    clocks, _ = clocks_of(subject.session, merged(subject.session.breadcrumbs))
    shown: dict[tuple[str, str], list[Cell]] = {}
    for reading in subject.readings:
        clock = clocks.get(reading.device)
        at_ms = (
            reading.t_ms if clock is None else clock.session_ms_of_tap(reading.t_ms, reading.page)
        )
        name = f"{reading_name(reading.quantity)}, {unit_name(reading.unit)}"
        before = "" if reading.changed_from is None else f"{reading.changed_from:g} to "
        cell = Cell(f"{before}{reading.value:g}", subject.clock(at_ms))
        shown.setdefault((name, _shown_as(reading)), []).append(cell)
    rows = [
        Row((Cell(name, how if start == 0 else ""), *_filled(cells[start : start + _A_ROW])))
        for (name, how), cells in shown.items()
        for start in range(0, len(cells), _A_ROW)
    ]
    return Table("What the displays showed, and when; each reading counts as an interval, not as a "
                 "point.",
                 (Cell("Display"), *(Cell("Showed", "at") for _ in range(_A_ROW))),
                 tuple(rows))  # fmt: skip


def _filled(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    return (*cells, *(Cell("") for _ in range(_A_ROW - len(cells))))


def _shown_as(reading: Reading) -> str:
    """How exact the display is, and how the figure came to be on record."""
    digits = "" if reading.resolution is None else f"shown to {reading.resolution:g}, "
    rounded = "rounded down" if reading.rounding == "down" else "rounded"
    if reading.about:
        rounded = "said roughly"
    source = SOURCES.get(reading.source or "", reading.source)
    return f"{digits}{rounded}" + (f", {source}" if source else "")


def _columns(subject: Subject, names: Sequence[tuple[str, Dimension | None]]) -> tuple[Cell, ...]:
    return tuple(
        Cell(name, "" if dimension is None else subject.units.unit(dimension))
        for name, dimension in names
    )


def _cell(subject: Subject, dimension: Dimension, quantity: Quantity | None) -> Cell:
    figure = subject.units.figure(dimension, quantity)
    return _NO_FIGURE if figure is None else Cell(figure.value, figure.interval)
