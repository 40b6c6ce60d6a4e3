"""Two sessions side by side as one picture for a film."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text

from ebbline.records.comparison import DifferingFact, Pair, PairedFigure
from ebbline.records.result import Quantity
from ebbline.report.figures import Dimension, Units
from ebbline.report.look import AMBER, INK, INK_SOFT, RULE, TIDE, WIDE, Drawing, Sheet
from ebbline.report.setting import PAIR_CAUTION, in_words
from ebbline.vocabulary import FACTS

_ROWS: tuple[tuple[str, str, Dimension], ...] = (
    ("reserve.distance_m", "Driven past zero", "distance"),
    ("reserve.energy_kwh", "Energy past zero", "energy"),
    ("consumption.past_zero_wh_per_km", "Consumption past zero", "consumption"),
)
_LEFT_IN = (0.42, 3.62, 6.82)  # of the three columns
_COLUMN_IN = (2.9, 2.9, 2.36)  # the third ends where the ruled lines do
_EARLY = "shut down before 0 %"
_TOLD = 3  # of the following, so that they stay on one line
_DIFFERED = (  # what explains a difference, the likeliest first
    "vehicle.software",
    "vehicle.pack.usable_kwh",
    "conditions.ambient_c",
    "conditions.pack_c",
    "vehicle.odometer_km",
    "conditions.surface",
    "conditions.climate",
    "conditions.drive_mode",
    "conditions.tyre_kpa",
    "conditions.load_kg",
)
AGREE = {
    True: "agree within their doubt",
    False: "apart by more than their doubt",
    None: "can\u2019t be told",
}


def picture(
    pair: Pair,
    names: tuple[str, str],
    units: Units,
    engine: str,
    early: tuple[bool, bool] = (False, False),
) -> bytes:
    """A PNG of 1920 by 1080. ``early``: which of the two shut down before zero."""
    figures = {figure.name: figure for figure in pair.figures}
    foot = f"{PAIR_CAUTION}\nRanges are 95 % intervals; the two count as independent.  {engine}"
    sheet = Sheet(WIDE, "Two drives, side by side", "from zero until the car could no longer drive",
                  foot)  # fmt: skip
    with sheet as page:
        differed = page.text(sheet.across(_LEFT_IN[0]), sheet.up(1.02), _differed(pair, units),
                             size=WIDE.pt(9.5), color=INK, va="top")  # fmt: skip
        _fit(page, differed, WIDE.width_in - 2 * _LEFT_IN[0])
        heads = (*names, "The second less the first")
        for left, wide, head in zip(_LEFT_IN, _COLUMN_IN, heads, strict=True):
            text = page.text(sheet.across(left), sheet.up(1.42), head, size=WIDE.pt(12),
                             color=INK, va="baseline", wrap=False)  # fmt: skip
            _fit(page, text, wide)
        top = 1.59
        high = (WIDE.height_in - top - 0.62) / len(_ROWS)
        for index, (place, words, dimension) in enumerate(_ROWS):
            _row(page, sheet, top + index * high, words, figures.get(place), dimension,
                 units, early)  # fmt: skip
    return Drawing(page, WIDE).saved("png")


def _row(
    page: Figure,
    sheet: Sheet,
    top: float,
    words: str,
    told: PairedFigure | None,
    dimension: Dimension,
    units: Units,
    early: tuple[bool, bool],
) -> None:
    ends = [sheet.across(_LEFT_IN[0]), 1 - sheet.across(_LEFT_IN[0])]
    page.add_artist(Line2D(ends, [sheet.up(top)] * 2, color=RULE, linewidth=0.8))
    page.text(ends[0], sheet.up(top + 0.1), words, size=WIDE.pt(10), color=INK_SOFT, va="top")
    apart = told is not None and told.agrees is False
    shown = (told.one, told.other, told.difference) if told else (None, None, None)
    unknown = (*(_EARLY if before else "not known" for before in early), "")
    for column, quantity in enumerate(shown):
        colour = (AMBER if apart else TIDE) if column == 2 else INK
        _figure(page, sheet, (_LEFT_IN[column], top + 0.72, _COLUMN_IN[column]), quantity,
                dimension, units, colour, unknown[column], signed=column == 2)  # fmt: skip
    page.text(sheet.across(_LEFT_IN[2]), sheet.up(top + 0.1), AGREE[told.agrees if told else None],
              size=WIDE.pt(10), color=AMBER if apart else INK, va="top")  # fmt: skip


def _figure(
    page: Figure,
    sheet: Sheet,
    place: tuple[float, float, float],
    quantity: Quantity | None,
    dimension: Dimension,
    units: Units,
    colour: str,
    unknown: str,
    signed: bool,
) -> None:
    left, down, wide = place
    shown = units.figure(dimension, quantity)
    if shown is None:
        page.text(sheet.across(left), sheet.up(down), unknown, size=WIDE.pt(15), style="italic",
                  color=INK_SOFT, va="baseline")  # fmt: skip
        return
    plus = "+" if signed and quantity is not None and quantity.value > 0 else ""
    text = page.text(sheet.across(left), sheet.up(down), plus + shown.value, size=WIDE.pt(30),
                     color=colour, va="baseline")  # fmt: skip
    unit = page.text(0, sheet.up(down), shown.unit, size=WIDE.pt(14), color=INK, va="baseline")
    long_in = sum(one.get_window_extent().width for one in (text, unit)) / page.dpi + 0.08
    fitting = min(1.0, wide / long_in)
    text.set_fontsize(WIDE.pt(30) * fitting)
    unit.set_fontsize(WIDE.pt(14) * fitting)
    unit.set_x(sheet.across(text.get_window_extent().x1 / page.dpi + 0.08))
    page.text(sheet.across(left), sheet.up(down + 0.22), shown.interval, size=WIDE.pt(10.5),
              color=INK_SOFT, va="baseline")  # fmt: skip


def _differed(pair: Pair, units: Units) -> str:
    """What was not the same, as far as one line goes."""
    by_name = {fact.name: fact for fact in pair.differs}
    known = [by_name[name] for name in _DIFFERED if name in by_name][:_TOLD]
    told = [_both(fact, units) for fact in known]
    more = len(pair.differs) - len(told)
    if more:
        told.append(f"{more} {'more' if told else 'things stated of car, day and course'}")
    return f"What differed: {'; '.join(told)}" if told else "Nothing that was stated differs"


def _both(fact: DifferingFact, units: Units) -> str:
    row = FACTS[fact.name]
    one, other = (
        "not stated" if value is None else in_words(row, value, units)
        for value in (fact.one, fact.other)
    )
    name = row.name.partition(",")[0]
    return f"{name[:1].lower()}{name[1:]} {one} and {other}"


def _fit(page: Figure, text: Text, width_in: float) -> None:
    """Shorten what is too long for its column."""
    words = text.get_text()
    while text.get_window_extent().width / page.dpi > width_in and len(words) > 4:
        words = words[:-1].rstrip()
        text.set_text(f"{words}\u2026")
