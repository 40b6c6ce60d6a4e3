"""How power and top speed faded over the energy past zero."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ebbline.records.result import Limit, Quantity
from ebbline.report.figures import Dimension
from ebbline.report.look import BAND_ALPHA, INK, LINE_POWER, LINE_SOC, LINE_SPEED, Sheet
from ebbline.report.subject import Subject


def can_draw(subject: Subject) -> bool:
    """Whether there are at least two stretches at full throttle with a place past zero."""
    return len(_stretches(subject)) > 1


def alt(subject: Subject) -> str:
    """What the picture shows."""
    units = subject.units
    said = [
        f"{units.text('speed', limit.speed_mps)} at "
        f"{units.text('energy', limit.energy_past_zero_kwh)}"
        for limit in _stretches(subject)
    ]
    return f"Top speed when floored, by energy past zero: {'; '.join(said)}."


def draw(subject: Subject, sheet: Sheet, figure: Figure) -> None:
    """Draw it: top speed above, power from the pack below where it is known."""
    stretches, units, shape = _stretches(subject), subject.units, sheet.shape
    with_power = [limit for limit in stretches if limit.pack_kw is not None]
    left, bottom, width, height = sheet.room()
    left, width, bottom, height = left + 0.5, width - 0.6, bottom + 0.48, height - 0.5
    panel = (height - 0.36) / 2 if with_power else height
    upper = sheet.axes(figure, (left, bottom + height - panel, width, panel - 0.2))
    speeds = [(each, each.speed_mps) for each in stretches]
    _points(subject, upper, speeds, "speed", LINE_SPEED, shape.pt(9.5))
    upper.set_title(f"Top speed, {units.unit('speed')}", loc="left", size=shape.pt(10.5),
                    color=LINE_SPEED, pad=4)  # fmt: skip
    lowest = upper
    if with_power:
        lowest = sheet.axes(figure, (left, bottom, width, panel - 0.2))
        _curve(subject, lowest)
        powers = [(each, each.pack_kw) for each in with_power]
        _points(subject, lowest, powers, "power", LINE_POWER, shape.pt(9.5))
        lowest.set_title("Power from the pack, kW", loc="left", size=shape.pt(10.5),
                         color=LINE_POWER, pad=4)  # fmt: skip
        upper.tick_params(labelbottom=False)
    ends, last = subject.result.reserve.energy_kwh, stretches[-1].energy_past_zero_kwh
    assert last is not None
    far = max(last.high, ends.value if ends else 0.0)
    for axes in {upper, lowest}:
        axes.set_xlim(0, far * 1.04)
        axes.set_ylim(bottom=0, top=axes.get_ylim()[1] * 1.12)
    lowest.set_xlabel("Energy past zero, kWh", size=shape.pt(10))


def _curve(subject: Subject, axes: Axes) -> None:
    """The fade between the stretches, as far as the core makes it out, and what the car's display
    said was available.
    """
    curves = subject.curves
    x, shown = curves.available_energy_kwh, curves.available_power_kw
    known = np.isfinite(x) & np.isfinite(shown.value)
    if known.any():
        axes.plot(x[known], shown.value[known], "o-", color=LINE_SOC, markersize=3.5, linewidth=1.0)
        axes.vlines(x[known], shown.low[known], shown.high[known], color=LINE_SOC, linewidth=1.0)
        axes.annotate(
            "available, by the display",
            (x[known][0], shown.value[known][0]),
            xytext=(4, 6),
            textcoords="offset points",
            color=LINE_SOC,
            size=8,
        )
    if np.isfinite(curves.fade_power_kw.value).sum() > 1:
        x, band = curves.fade_energy_kwh, curves.fade_power_kw
        axes.fill_between(x, band.low, band.high, color=LINE_POWER, alpha=BAND_ALPHA, linewidth=0)
        axes.plot(x, band.value, color=LINE_POWER, linewidth=1.5)


def _points(
    subject: Subject,
    axes: Axes,
    points: list[tuple[Limit, Quantity | None]],
    dimension: Dimension,
    colour: str,
    size: float,
) -> None:
    units = subject.units
    scale = units.scale(dimension)
    for limit, quantity in points:
        past = limit.energy_past_zero_kwh
        shown = units.figure(dimension, quantity)
        if past is None or quantity is None or shown is None:
            continue
        x, y = past.value, quantity.value * scale
        axes.plot([past.low, past.high], [y, y], color=colour, linewidth=1.2)
        axes.plot([x, x], [quantity.low * scale, quantity.high * scale], color=colour,
                  linewidth=1.2)  # fmt: skip
        axes.plot([x], [y], "o", color=colour, markersize=5)
        axes.annotate(shown.value, (x, y), xytext=(7, 5), textcoords="offset points", color=INK,
                      size=size)  # fmt: skip


def _stretches(subject: Subject) -> list[Limit]:
    return [
        limit
        for limit in subject.result.limits
        if limit.speed_mps is not None and limit.energy_past_zero_kwh is not None
    ]
