"""Two sessions side by side as one picture for a film."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text

from ebbline.records.comparison import Pair, PairedFigure
from ebbline.records.result import Quantity
from ebbline.report.figures import Dimension, Units
from ebbline.report.look import AMBER, INK, INK_SOFT, RULE, TIDE, WIDE, Sheet, save
from ebbline.report.setting import PICTURE_CAUTION

_ROWS: tuple[tuple[str, str, Dimension], ...] = (
    ("reserve.distance_m", "Driven past zero", "distance"),
    ("reserve.energy_kwh", "Energy past zero", "energy"),
    ("consumption.past_zero_wh_per_km", "Consumption past zero", "consumption"),
)
_LEFT_IN = (0.42, 3.62, 6.82)  # of the three columns
_COLUMN_IN = 2.9
AGREE = {
    True: "agree within their doubt",
    False: "apart by more than their doubt",
    None: "can\u2019t be told",
}


def picture(pair: Pair, names: tuple[str, str], units: Units, engine: str) -> bytes:
    """A PNG of 1920 by 1080."""
    figures = {figure.name: figure for figure in pair.figures}
    foot = f"{PICTURE_CAUTION}\nRanges are 95 % intervals; the two count as independent.  {engine}"
    sheet = Sheet(WIDE, "Two drives, side by side", "from zero until the car could no longer drive",
                  foot)  # fmt: skip
    with sheet as page:
        heads = (*names, "The second less the first")
        for left, head in zip(_LEFT_IN, heads, strict=True):
            text = page.text(sheet.across(left), sheet.up(1.42), head, size=WIDE.pt(12),
                             color=INK, va="baseline", wrap=False)  # fmt: skip
            _fit(page, text, _COLUMN_IN)
        top = 1.58
        high = (WIDE.height_in - top - 0.62) / len(_ROWS)
        for index, (place, words, dimension) in enumerate(_ROWS):
            _row(page, sheet, top + index * high, words, figures.get(place), dimension, units)
        return save(page, WIDE, "png")


def _row(
    page: Figure,
    sheet: Sheet,
    top: float,
    words: str,
    told: PairedFigure | None,
    dimension: Dimension,
    units: Units,
) -> None:
    ends = [sheet.across(_LEFT_IN[0]), 1 - sheet.across(_LEFT_IN[0])]
    page.add_artist(Line2D(ends, [sheet.up(top)] * 2, color=RULE, linewidth=0.8))
    page.text(ends[0], sheet.up(top + 0.1), words, size=WIDE.pt(10), color=INK_SOFT, va="top")
    apart = told is not None and told.agrees is False
    shown = (told.one, told.other, told.difference) if told else (None, None, None)
    for column, quantity in enumerate(shown):
        colour = (AMBER if apart else TIDE) if column == 2 else INK
        _figure(page, sheet, (_LEFT_IN[column], top + 0.72), quantity, dimension, units, colour)
    page.text(sheet.across(_LEFT_IN[2]), sheet.up(top + 0.1), AGREE[told.agrees if told else None],
              size=WIDE.pt(10), color=AMBER if apart else INK, va="top")  # fmt: skip


def _figure(
    page: Figure,
    sheet: Sheet,
    place: tuple[float, float],
    quantity: Quantity | None,
    dimension: Dimension,
    units: Units,
    colour: str,
) -> None:
    left, down = place
    shown = units.figure(dimension, quantity)
    if shown is None:
        page.text(sheet.across(left), sheet.up(down), "not known", size=WIDE.pt(15), style="italic",
                  color=INK_SOFT, va="baseline")  # fmt: skip
        return
    text = page.text(sheet.across(left), sheet.up(down), shown.value, size=WIDE.pt(30),
                     color=colour, va="baseline")  # fmt: skip
    end_in = text.get_window_extent().x1 / page.dpi
    page.text(sheet.across(end_in + 0.08), sheet.up(down), shown.unit, size=WIDE.pt(14), color=INK,
              va="baseline")  # fmt: skip
    page.text(sheet.across(left), sheet.up(down + 0.22), shown.interval, size=WIDE.pt(10.5),
              color=INK_SOFT, va="baseline")  # fmt: skip


def _fit(page: Figure, text: Text, width_in: float) -> None:
    """Shorten what is too long for its column."""
    words = text.get_text()
    while text.get_window_extent().width / page.dpi > width_in and len(words) > 4:
        words = words[:-1].rstrip()
        text.set_text(f"{words}\u2026")
