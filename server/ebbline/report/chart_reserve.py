"""The reserve of cars against the size of their packs, and what each model says of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from ebbline.records.comparison import Figure
from ebbline.records.result import Quantity
from ebbline.report.look import (
    ALARM,
    BAND_ALPHA,
    EDGE,
    INK,
    INK_SOFT,
    LINE_POWER,
    LINE_SPEED,
    PAGE,
    TIDE,
    Drawing,
    Sheet,
)  # fmt: skip

_COLOURS = (LINE_SPEED, TIDE, LINE_POWER)
_DASHES = ("--", "-.", ":")


@dataclass(frozen=True, slots=True)
class Car:
    """A session by its tag: its pack's usable energy and its reserve, kWh."""

    tag: str
    usable_kwh: Quantity
    reserve_kwh: Figure


@dataclass(frozen=True, slots=True)
class Line:
    """What a model says: pairs of usable energy and reserve with its interval, kWh. ``leads``: it
    weighs most, and its interval is drawn.
    """

    name: str
    points: Sequence[tuple[float, Quantity]]
    leads: bool


def reserve_by_pack(cars: Sequence[Car], lines: Sequence[Line]) -> Drawing:
    """The picture, across a printed page. A car of which bounds alone are known, as one that shut
    down before zero, is an open bar.
    """
    sheet = Sheet(PAGE, "", "", "")
    with sheet as figure:
        left, bottom, width, height = sheet.room()
        axes = sheet.axes(figure, (left + 0.5, bottom + 0.45, width - 0.6, height - 0.6))
        for line, colour, dash in zip(lines, _COLOURS, _DASHES, strict=False):
            _line(axes, line, colour, dash)
        for car in cars:
            _car(axes, car, sheet.shape.pt(8.5))
        axes.axhline(0, color=EDGE, linewidth=0.7)
        axes.set_xlabel("Usable energy, kWh", size=sheet.shape.pt(10))
        axes.set_title("Energy past zero, kWh", loc="left", size=sheet.shape.pt(10.5), pad=4)
        if lines:
            axes.legend(frameon=False, fontsize=sheet.shape.pt(8.5), labelcolor=INK_SOFT)
    return Drawing(figure, PAGE)


def _line(axes: Axes, line: Line, colour: str, dash: str) -> None:
    x = [usable_kwh for usable_kwh, _ in line.points]
    told = [reserve for _, reserve in line.points]
    axes.plot(x, [one.value for one in told], dash, color=colour, linewidth=1.2, label=line.name)
    if line.leads:
        axes.fill_between(x, [one.low for one in told], [one.high for one in told], color=colour,
                          alpha=BAND_ALPHA, linewidth=0)  # fmt: skip


def _car(axes: Axes, car: Car, size: float) -> None:
    x, reserve = car.usable_kwh.value, car.reserve_kwh
    if reserve is None:
        return
    low, high = reserve.low, reserve.high
    open_bar = reserve.value is None
    colour = ALARM if open_bar else INK
    if low is not None and high is not None:
        axes.plot([x, x], [low, high], color=colour, linewidth=1.1)
    top = next((one for one in (high, reserve.value, low) if one is not None), None)
    if top is None:
        return
    at = top if reserve.value is None else reserve.value
    axes.plot(
        [x], [at], "o", color=colour, markersize=4.5, fillstyle="none" if open_bar else "full"
    )
    if not open_bar:
        axes.plot([car.usable_kwh.low, car.usable_kwh.high], [at, at], color=colour, linewidth=0.8)
    axes.annotate(car.tag, (x, at), xytext=(5, 4), textcoords="offset points", size=size,
                  color=INK_SOFT)  # fmt: skip
