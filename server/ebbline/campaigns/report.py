"""A campaign as a report on paper, set as a session's is: its comparison in words, tables and a
picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from ebbline.records.campaign import Definition
from ebbline.records.comparison import Figure, ToleranceBound, TrustInWarning
from ebbline.records.result import Quantity
from ebbline.report import setting
from ebbline.report.bound import bound_in_words
from ebbline.report.chart_reserve import Car, Line, reserve_by_pack
from ebbline.report.content import (
    SEVERITIES,
    Block,
    Cell,
    Facts,
    Headline,
    Paragraphs,
    Picture,
    Remarks,
    Report,
    Row,
    Section,
    Table,
)  # fmt: skip
from ebbline.report.figures import Dimension, Units, number
from ebbline.report.pdf import pdf_of
from ebbline.sessions.results.telling import figure
from ebbline.vocabulary import (
    FACTS,
    event_name,
    first_upper,
    reserve_model_name,
    warning_class_name,
    zero_name,
)

PICTURE = "reserve-by-pack"
_Rows: TypeAlias = list[list[str | Cell]]
_UNTOLD = "\u2013"
_CAPTION = (
    "Each point is a session by its tag in the table of cars, with 95 % intervals; a bar without a "
    "point is of a car that shut down before zero, at most so much. Lines are the answers tried; "
    "the band is that of \u201csome of both\u201d, which holds the other two."
)


@dataclass(frozen=True, slots=True)
class Told:
    """What is told: the comparison document, what sessions are called by id, in whose units."""

    definition: Definition
    comparison: Mapping[str, Any]
    names: Mapping[str, str]
    units: Units


def report_pdf(told: Told) -> bytes:
    """The report as tagged PDF on A4; the same comparison gives the same bytes."""
    return pdf_of(build(told), {PICTURE: _picture(told)})


def build(told: Told) -> Report:
    """All of it as blocks."""
    comparison, definition = told.comparison, told.definition
    model = comparison["reserve_model"]
    n = model["cars"]
    facts = [
        f"{len(comparison['sessions'])} sessions compared, {len(comparison['left_out'])} left out",
        f"{n} cars say something of the reserve\u2019s energy" if n != 1 else "1 car",
        f"from \u201c{zero_name(comparison['zero_basis'])}\u201d"
        if comparison["zero_basis"] else "",
        f"to \u201c{event_name(comparison['reserve_end'])}\u201d"
        if comparison["reserve_end"] else "",
        f"tested by {definition.tested_by}" if definition.tested_by else "",
    ]  # fmt: skip
    return Report(
        title=definition.name,
        facts=tuple(filter(None, facts)),
        summary=model["statement"],
        shown=definition.notes or "",
        caution=setting.CAUTIONS[0],
        headlines=tuple(_headlines(told)),
        sections=tuple(_sections(told)),
        foot=comparison["engine"],
    )


def _headlines(told: Told) -> Iterator[Headline]:
    model = told.comparison["reserve_model"]
    by_name = {one["name"]: one for one in model["models"]}
    mean = model["mean_usable_kwh"]
    pack = "" if mean is None else f"with {number(mean, 0)}\u00a0kWh, the mean pack"
    shown: tuple[tuple[str, Any, Dimension, str], ...] = (
        ("If it is a fixed amount", by_name["fixed"]["fixed_kwh"], "energy", "over all cars"),
        ("If it is a share of the pack", by_name["proportional"]["share_pct"], "percent",
         "of the usable energy"),
        ("A further car", model["next_car_kwh"], "energy", pack),
    )  # fmt: skip
    for name, found, dimension, source in shown:
        quantity = figure(found)
        known = quantity if isinstance(quantity, Quantity) else None
        yield Headline(name, name, told.units.figure(dimension, known), source)


def _sections(told: Told) -> Iterator[Section]:
    comparison = told.comparison
    model = comparison["reserve_model"]
    if comparison["sessions"]:
        alt = "; ".join(
            f"{row['tag']}: {told.units.text('energy', figure(row['reserve_kwh']))}"
            for row in told.comparison["sessions"]
        )
        picture = Picture(PICTURE, f"Energy past zero by car: {alt}.", _CAPTION)
        yield Section(
            "answer", "How much is left, and what it depends on", (picture, _models(told))
        )
        yield Section("cars", "Car by car", (_cars(told),))
    if comparison["warnings"]:
        yield Section("warnings", "How far a warning can be trusted", tuple(_warnings(told)))
    if comparison["repeats"]:
        yield Section("repeats", "Does a car agree with itself", (_repeats(told),))
    if model["influences"]:
        yield Section("influences", "What else the reserve goes with", tuple(_influences(told)))
    if comparison["findings"]:
        rows = [(*SEVERITIES[one["severity"]], one["message"]) for one in comparison["findings"]]
        yield Section("doubts", "Doubts", (Remarks(tuple(rows)),))
    if comparison["left_out"]:
        out = [(told.names[one["session_id"]], one["why"]) for one in comparison["left_out"]]
        yield Section("left-out", "What is left out, and why", (Facts(tuple(out)),))
    yield Section("cautions", "Cautions", (Paragraphs(setting.CAUTIONS),))


def _models(told: Told) -> Table:
    model = told.comparison["reserve_model"]
    rows: _Rows = [
        [first_upper(reserve_model_name(one["name"])), *_cells(told, ("energy", one["fixed_kwh"]),
                                       ("percent", one["share_pct"]),
                                       ("energy", one["between_cars_sd_kwh"])),
         _UNTOLD if one["weight"] is None else number(one["weight"], 2)]
        for one in model["models"]
    ]  # fmt: skip
    return _table("The three answers tried, and what each rests on",
                  ("Answer", "Fixed part", "Share of the pack", "Cars differ by (1 s.d.)",
                   "Weight (AICc)"), rows)  # fmt: skip


def _cars(told: Told) -> Table:
    rows: _Rows = [
        [Cell(f"{row['tag']}  {told.names[row['session_id']]}",
              "shut down before zero" if row["shut_down_before_zero"] else ""),
         *_cells(told, ("energy", row["usable_kwh"]), ("energy", row["reserve_kwh"]),
                 ("distance", row["reserve_m"]), ("percent", row["share_of_usable_pct"]),
                 ("consumption", row["consumption_wh_per_km"]))]
        for row in told.comparison["sessions"]
    ]  # fmt: skip
    return _table("Sessions by their cars; below each figure its 95 % interval",
                  ("Car", "Usable energy", "Energy past zero", "Distance past zero",
                   "Of usable energy", "Consumption"), rows)  # fmt: skip


def _warnings(told: Told) -> Iterator[Block]:
    warnings = told.comparison["warnings"]
    rows: _Rows = [
        [first_upper(warning_class_name(one["class"])), str(one["n"]),
         *_cells(told, ("distance", one["least_left_m"]), ("distance", one["median_left_m"]),
                 ("energy", one["least_left_kwh"]), ("duration", one["least_left_s"]))]
        for one in warnings
    ]  # fmt: skip
    yield _table("What was left at the first warning of each class; of a car driven again, the "
                 "least counts",
                 ("Warning", "Cars", "Least left", "Median", "Least energy", "Least time"),
                 rows)  # fmt: skip
    yield Paragraphs(tuple(bound_in_words(_trust(one), told.units) for one in warnings))


def _trust(one: Mapping[str, Any]) -> TrustInWarning:
    """A row of the document as a record."""
    figures = {
        f"{which}_left_{unit}": figure(one[f"{which}_left_{unit}"])
        for which in ("least", "median")
        for unit in ("m", "kwh", "s")
    }
    bound = ToleranceBound(**one["bound"])
    kept: dict[str, Any] = {"bound": bound, "least_vehicle": one["least_vehicle"], **figures}
    return TrustInWarning(one["class"], one["n"], **kept)


def _repeats(told: Told) -> Table:
    rows: _Rows = [
        [f"{told.names[one['session_ids'][0]]}, then {told.names[one['session_ids'][1]]}",
         *_cells(told, ("energy", one["difference_kwh"]), ("distance", one["difference_m"])),
         _verdict(one["agrees"], one["apart"])]
        for one in told.comparison["repeats"]
    ]  # fmt: skip
    return _table("The same car again: the later drive less the first",
                  ("Drives", "Difference in energy", "Difference in distance", "Do they agree?"),
                  rows)  # fmt: skip


def _verdict(agrees: bool | None, apart: Sequence[str]) -> str:
    if agrees is None:
        return "can\u2019t be told"
    if agrees:
        return "agree within their doubt"
    return f"apart in {' and '.join(apart)} by more than their doubt"


def _influences(told: Told) -> Iterator[Block]:
    rows: _Rows = []
    for one in told.comparison["reserve_model"]["influences"]:
        name = FACTS[one["of"]].name if one["of"] in FACTS else "Consumption past zero"
        what = (f"{one['level']} instead of {one['against']}" if one["level"]
                else f"for each {told.units.step(one['per'], one['unit'])} more")  # fmt: skip
        said = {True: "a clear change", False: "may be none"}.get(one["clear"], one["reason"])
        rows.append([Cell(name, what), str(one["cars"]),
                     *_cells(told, ("energy", one["change_kwh"])), said or ""])  # fmt: skip
    yield Paragraphs(("Each by itself among cars with equal packs; shown, never adjusted for. What "
                      "goes together need not be cause and effect.",))  # fmt: skip
    yield _table("How the reserve goes with something else",
                 ("Goes with", "Cars", "Reserve changes by", "What that says"), rows)  # fmt: skip


def _picture(told: Told) -> bytes:
    cars = [
        Car(row["tag"], usable, figure(row["reserve_kwh"]))
        for row in told.comparison["sessions"]
        for usable in [figure(row["usable_kwh"])]
        if isinstance(usable, Quantity)
    ]
    models = told.comparison["reserve_model"]["models"]
    lines = [
        Line(one["name"], [(at["usable_kwh"], Quantity(**at["reserve_kwh"])) for at in one["line"]])
        for one in models
        if one["line"]
    ]
    return reserve_by_pack(cars, lines).saved("svg")


def _cells(told: Told, *shown: tuple[Dimension, Any]) -> list[Cell]:
    return [_cell(told.units, dimension, figure(found)) for dimension, found in shown]


def _cell(units: Units, dimension: Dimension, found: Figure) -> Cell:
    if found is None:
        return Cell(_UNTOLD)
    if not isinstance(found, Quantity):
        return Cell(units.text(dimension, found))
    shown = units.figure(dimension, found)
    assert shown is not None
    return Cell(f"{shown.value}\u00a0{shown.unit}".strip(), shown.interval)


def _table(caption: str, heads: Sequence[str], rows: Sequence[Sequence[str | Cell]]) -> Table:
    return Table(
        caption,
        tuple(Cell(head) for head in heads),
        tuple(
            Row(tuple(one if isinstance(one, Cell) else Cell(one) for one in row)) for row in rows
        ),
    )
