"""A comparison as a person reads it in a terminal."""

from __future__ import annotations

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from ebbline.cli.summary import STYLES, Units, figure, short_figure
from ebbline.engine import comparison_engine_id
from ebbline.records.comparison import (
    ComparedSession,
    Comparison,
    Figure,
    Influence,
    ReserveModel,
    TrustInWarning,
)
from ebbline.records.result import Bounds, Quantity
from ebbline.report import figures as report
from ebbline.report.bound import bound_in_words
from ebbline.vocabulary import (
    event_name,
    reserve_model_name,
    unit_name,
    warning_class_name,
    zero_name,
)

_INFLUENCES = {
    "conditions.ambient_c": "air temperature",
    "conditions.pack_c": "pack temperature",
    "consumption.past_zero_wh_per_km": "consumption past zero",
    "vehicle.odometer_km": "age, by odometer",
    "vehicle.pack.chemistry": "chemistry",
}


def show(comparison: Comparison, units: Units, console: Console) -> None:
    """Print what can be concluded, and the figures it rests on."""
    model = comparison.reserve_model
    zero, end = zero_name(comparison.zero_basis), event_name(comparison.reserve_end or "")
    console.print(
        Text(f"{len(comparison.sessions)} sessions  ({comparison_engine_id()})", style="bold")
    )
    if comparison.sessions:
        console.print(f"Reserve: from \u201c{zero or 'not known'}\u201d to \u201c{end}\u201d.")
    console.print()
    console.print(Text(model.statement, style="bold"))
    names = {session.session_id: session.vehicle for session in comparison.sessions}
    if comparison.sessions:
        console.print(_sessions(comparison.sessions, units))
        console.print(_models(model))
    if comparison.warnings:
        console.print(_warnings(comparison.warnings, units))
        for entry in comparison.warnings:
            console.print(Text(bound_in_words(entry, report.Units(units.distance))))
    if comparison.repeats:
        console.print(_repeats(comparison, units))
    if any(influence.change_kwh or influence.cars for influence in model.influences):
        console.print(_influences(model.influences))
    for left in comparison.left_out:
        console.print(Text(f"left out: {names.get(left.session_id, left.session_id)}: {left.why}"))
    for finding in comparison.findings:
        console.print(
            Text(f"{finding.severity}: {finding.message}", style=STYLES[finding.severity])
        )


def _told(told: Figure, scale: float = 1.0) -> str:
    """A figure in a cell; of one that bounds alone are known, the bounds."""
    if not isinstance(told, Bounds):
        return short_figure(told, scale)
    value, low, high = (
        None if end is None else f"{end / scale:.3g}" for end in (told.value, told.low, told.high)
    )
    if value is not None:
        return value
    if low is not None and high is not None:
        return f"{low} to {high}"
    return f"at most {high}" if high is not None else f"at least {low}"


def _table(*columns: str, title: str) -> Table:
    return Table(*columns, title=title, box=SIMPLE_HEAD, padding=(0, 1, 0, 0))


def _sessions(sessions: tuple[ComparedSession, ...], units: Units) -> Table:
    table = _table(
        "car",
        "usable, kWh",
        "chemistry",
        f"reserve, {units.distance}",
        "reserve, kWh",
        "% of usable",
        "off the line, kWh",
        "",
        title="Sessions (±: 95 % interval; off the line: less what the mixed model expects)",
    )
    for session in sessions:
        notes = ["again"] if session.repeat_of else []
        notes += ["before zero"] if session.shut_down_before_zero else []
        table.add_row(
            _printable(session.vehicle),
            "–" if session.usable_kwh is None else f"{session.usable_kwh.value:g}",
            _printable(session.chemistry or "–"),
            _told(session.reserve_m, units.distance_m),
            _told(session.reserve_kwh),
            _told(session.share_of_usable_pct),
            _told(session.residual_kwh),
            ", ".join(notes),
        )
    return table


def _models(model: ReserveModel) -> Table:
    table = _table(
        "the reserve is",
        "fixed, kWh",
        "% of usable",
        "cars differ by, kWh (1 sd)",
        "weight",
        title=f"Models of the reserve ({model.cars} cars; weight: by AICc)",
    )
    for one in model.models:
        table.add_row(
            reserve_model_name(one.name),
            _told(one.fixed_kwh),
            _told(one.share_pct),
            _told(one.between_cars_sd_kwh),
            "–" if one.weight is None else f"{one.weight:.3f}",
        )
    return table


def _warnings(warnings: tuple[TrustInWarning, ...], units: Units) -> Table:
    table = _table(
        "warning",
        "cars",
        f"least left, {units.distance}",
        f"median, {units.distance}",
        "least, kWh",
        "median, kWh",
        "least, min",
        "median, min",
        title="What was left at the first warning of each class, by car",
    )
    for entry in warnings:
        table.add_row(
            warning_class_name(entry.warning_class),
            str(entry.n),
            _told(entry.least_left_m, units.distance_m),
            _told(entry.median_left_m, units.distance_m),
            _told(entry.least_left_kwh),
            _told(entry.median_left_kwh),
            _told(entry.least_left_s, 60.0),
            _told(entry.median_left_s, 60.0),
        )
    return table


def _repeats(comparison: Comparison, units: Units) -> Table:
    table = _table(
        "car, later less first drive",
        f"reserve, {units.distance}",
        "reserve, kWh",
        "agree",
        "odometer",
        "kWh per 1000 km",
        title="Driven again",
    )
    for repeat in comparison.repeats:
        apart = f"NO, not in {' and '.join(repeat.apart)}"
        agrees = {True: "within their doubt", False: apart, None: "can't be said"}[repeat.agrees]
        driven = repeat.odometer_difference_km
        table.add_row(
            _printable(repeat.vehicle),
            _told(repeat.difference_m, units.distance_m),
            _told(repeat.difference_kwh),
            agrees,
            "–" if driven is None else f"{driven:+,.0f} km",
            _told(repeat.per_1000_km_kwh),
        )
    return table


def _influences(influences: tuple[Influence, ...]) -> Table:
    table = _table(
        "goes with",
        "cars",
        "reserve changes by, kWh",
        "",
        title="Influences, each by itself at equal packs (shown, not adjusted for)",
    )
    for influence in influences:
        name = _INFLUENCES[influence.of]
        if influence.level is not None:
            name += f": {influence.level} instead of {influence.against}"
        else:
            name += f", per {influence.per:,.0f} {unit_name(influence.unit)}"
        clear = {True: "clear", False: "may be none", None: influence.reason or ""}
        table.add_row(
            _printable(name),
            str(influence.cars),
            _or_dash(influence.change_kwh),
            clear[influence.clear],
        )
    return table


def _or_dash(told: Quantity | None) -> str:
    return "–" if told is None else figure(told)


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)  # no escapes to the terminal
