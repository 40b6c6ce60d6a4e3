"""The reserve of cars against the size of their packs, and what each model says of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from ebbline.records.comparison import Figure, ModelName
from ebbline.records.result import Quantity
from ebbline.report.look import (
    ALARM,
    BAND_ALPHA,
    EDGE,
    INK,
    INK_SOFT,
    LINE_ENERGY,
    LINE_SOC,
    LINE_SPEED,
    PAGE,
    Drawing,
    Sheet,
)  # fmt: skip
from ebbline.vocabulary import first_upper, reserve_model_name

_STYLES: dict[ModelName, tuple[str, str]] = {  # colour and dashes
    "fixed": (LINE_SOC, "--"), "proportional": (LINE_SPEED, ":"), "mixed": (LINE_ENERGY, "-"),
}  # fmt: skip
_BAND: ModelName = "mixed"  # it holds the other two, so its band claims least


@dataclass(frozen=True, slots=True)
class Car:
    """A session by its tag: its pack's usable energy and its reserve, kWh."""

    tag: str
    usable_kwh: Quantity
    reserve_kwh: Figure


@dataclass(frozen=True, slots=True)
class Line:
    """What a model says: pairs of usable energy and reserve with its interval, kWh."""

    name: ModelName
    points: Sequence[tuple[float, Quantity]]


def reserve_by_pack(cars: Sequence[Car], lines: Sequence[Line]) -> Drawing:
    """The picture, across a printed page. A car of which bounds alone are known, as one that shut
    down before zero, is a bar between them without a point.
    """
    sheet = Sheet(PAGE, "", "", "")
    with sheet as figure:
        left, bottom, width, height = sheet.room()
        axes = sheet.axes(figure, (left + 0.5, bottom + 0.45, width - 0.6, height - 0.6))
        for line in lines:
            _line(axes, line)
        for car in cars:
            _car(axes, car, sheet.shape.pt(8.5))
        axes.axhline(0, color=EDGE, linewidth=0.7)
        axes.set_xlabel("Usable energy, kWh", size=sheet.shape.pt(10))
        axes.set_title("Energy past zero, kWh", loc="left", size=sheet.shape.pt(10.5), pad=4)
        if lines:
            axes.legend(frameon=False, fontsize=sheet.shape.pt(8.5), labelcolor=INK_SOFT)
    return Drawing(figure, PAGE)


def _line(axes: Axes, line: Line) -> None:
    colour, dash = _STYLES[line.name]
    x = [usable_kwh for usable_kwh, _ in line.points]
    told = [reserve for _, reserve in line.points]
    words = first_upper(reserve_model_name(line.name))
    axes.plot(x, [one.value for one in told], dash, color=colour, linewidth=1.2, label=words)
    if line.name == _BAND:
        low, high = ([getattr(one, end) for one in told] for end in ("low", "high"))
        band = f"95 % of \u201c{words}\u201d"
        axes.fill_between(x, low, high, color=colour, alpha=BAND_ALPHA, linewidth=0, label=band)


def _car(axes: Axes, car: Car, size: float) -> None:
    x, reserve = car.usable_kwh.value, car.reserve_kwh
    if reserve is None:
        return
    low, high, at = reserve.low, reserve.high, reserve.value
    colour = ALARM if at is None else INK
    if low is not None and high is not None:
        axes.plot([x, x], [low, high], color=colour, linewidth=1.1)
    if at is not None:
        axes.plot([x], [at], "o", color=colour, markersize=4.5)
        axes.plot([car.usable_kwh.low, car.usable_kwh.high], [at, at], color=colour, linewidth=0.8)
    else:
        at = high if high is not None else low
        if at is None:
            return
        axes.plot([x], [at], "_", color=colour, markersize=9)
    axes.annotate(car.tag, (x, at), xytext=(5, 4), textcoords="offset points", size=size,
                  color=INK_SOFT)  # fmt: skip
