"""The headline figures as one large picture."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ebbline.records.result import Quantity
from ebbline.report.figures import Dimension
from ebbline.report.look import INK, INK_SOFT, RULE, TIDE, Sheet
from ebbline.report.subject import Subject


def can_draw(subject: Subject) -> bool:
    """Whether there is a reserve to state."""
    return len(_lines(subject)) > 0


def alt(subject: Subject) -> str:
    """What the picture says."""
    return "; ".join(
        f"{name}: {subject.units.text(dimension, quantity)}" + (f", {hangs}" if hangs else "")
        for name, dimension, quantity, hangs in _lines(subject)
    )


def draw(subject: Subject, sheet: Sheet, figure: Figure) -> None:
    """Draw it: the first two large, the others below."""
    lines, shape = _lines(subject), sheet.shape
    left, bottom, width, height = sheet.room()
    large, small = lines[:2], lines[2:]
    tall = shape.height_in > 0.8 * shape.width_in
    columns = 1 if tall else len(large)
    small_height = 1.0 * shape.type_scale if small else 0.0
    top = bottom + height
    each = (height - small_height) / (len(large) if tall else 1)
    for index, (name, dimension, quantity, hangs) in enumerate(large):
        x = left + (index % columns) * width / columns
        y = top - (index // columns + 1) * each + each / 2
        _figure(sheet, figure, (x, y), shape.pt(58), name, subject, dimension, quantity, hangs)
    for index, (name, dimension, quantity, _) in enumerate(small):
        x = left + index * width / len(small)
        figure.text(x / shape.width_in, (bottom + small_height * 0.86) / shape.height_in, name,
                    size=shape.pt(10), color=INK_SOFT, va="top")  # fmt: skip
        shown = subject.units.figure(dimension, quantity)
        assert shown is not None
        figure.text(x / shape.width_in, (bottom + small_height * 0.62) / shape.height_in,
                    f"{shown.value} {shown.unit}".strip(), size=shape.pt(17), color=INK,
                    va="top")  # fmt: skip
        figure.text(x / shape.width_in, (bottom + small_height * 0.26) / shape.height_in,
                    shown.interval, size=shape.pt(9), color=INK_SOFT, va="top")  # fmt: skip
    if small:
        line_y = (bottom + small_height) / shape.height_in
        figure.add_artist(_rule(sheet, line_y, left, width))


def _figure(
    sheet: Sheet,
    figure: Figure,
    place: tuple[float, float],
    size: float,
    name: str,
    subject: Subject,
    dimension: Dimension,
    quantity: Quantity,
    hangs: str,
) -> None:
    shape, (x, y) = sheet.shape, place
    shown = subject.units.figure(dimension, quantity)
    assert shown is not None
    inch = size / 72
    across, foot = x / shape.width_in, (y - inch * 0.35) / shape.height_in
    text = figure.text(across, foot, shown.value, size=size, color=TIDE, va="baseline")
    end_in = text.get_window_extent().x1 / figure.dpi
    figure.text((end_in + 0.12) / shape.width_in, foot, shown.unit, size=size * 0.42, color=INK,
                va="baseline")  # fmt: skip
    figure.text(across, (y + inch * 0.62) / shape.height_in, name, size=shape.pt(13), color=INK,
                va="baseline")  # fmt: skip
    figure.text(across, (y - inch * 0.62) / shape.height_in,
                f"{shown.interval} (95 % interval)" + (f"\n{hangs}" if hangs else ""),
                size=shape.pt(12), color=INK_SOFT, va="top")  # fmt: skip


def _rule(sheet: Sheet, y: float, left: float, width: float) -> Line2D:
    return Line2D(
        [sheet.across(left), sheet.across(left + width)], [y, y], color=RULE, linewidth=0.8
    )


def _lines(subject: Subject) -> list[tuple[str, Dimension, Quantity, str]]:
    """Name, dimension, figure, and what gap it hangs on, if any."""
    reserve, result = subject.result.reserve, subject.result
    found: list[tuple[str, Dimension, Quantity | None, str]] = [
        ("Driven past zero", "distance", reserve.distance_m, "reserve.distance_m"),
        ("Energy past zero", "energy", reserve.energy_kwh, "reserve.energy_kwh"),
        ("Time", "duration", reserve.duration_s, ""),
        ("Share of usable energy", "percent", reserve.share_of_usable_pct,
         "reserve.share_of_usable_pct"),
        ("Consumption", "consumption", result.consumption.past_zero_wh_per_km,
         "consumption.past_zero_wh_per_km"),
    ]  # fmt: skip
    if reserve.distance_m is None and reserve.energy_kwh is None:
        return []
    return [
        (name, dimension, quantity, subject.hangs(place))
        for name, dimension, quantity, place in found
        if quantity
    ]
