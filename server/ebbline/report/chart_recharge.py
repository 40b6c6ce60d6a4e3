"""Power and energy on the charger since plug-in."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from ebbline.records import Band
from ebbline.report.look import (
    AMBER,
    AMBER_WASH,
    BAND_ALPHA,
    EDGE,
    INK_SOFT,
    LINE_ENERGY,
    LINE_POWER,
    Sheet,
)
from ebbline.report.subject import Subject

MOST_POINTS = 1500


def can_draw(subject: Subject) -> bool:
    """Whether anything is known of a recharge."""
    recharge, curves = subject.result.recharge, subject.curves
    return (
        recharge is not None
        and recharge.plug_in_ms is not None
        and curves.recharge_t_ms.size > 1
        and any(
            np.isfinite(band.value).sum() > 1
            for band in (curves.recharge_energy_kwh, curves.recharge_power_kw)
        )
    )


def alt(subject: Subject) -> str:
    """What the picture shows."""
    recharge, units = subject.result.recharge, subject.units
    assert recharge is not None
    return (
        "Two lines over the minutes since plug-in: charging power and energy taken in. It trickled "
        f"for {units.text('duration', recharge.trickle_s)} at "
        f"{units.text('power', recharge.trickle_kw)}, then took "
        f"{units.text('power', recharge.full_power_kw)}."
    )


def draw(subject: Subject, sheet: Sheet, figure: Figure) -> None:
    """Draw it."""
    curves, recharge, shape = subject.curves, subject.result.recharge, sheet.shape
    assert recharge is not None
    assert recharge.plug_in_ms is not None
    size = curves.recharge_t_ms.size
    rows = np.unique(np.rint(np.linspace(0, size - 1, min(size, MOST_POINTS))).astype(np.int64))
    minutes = (curves.recharge_t_ms[rows] - recharge.plug_in_ms) / 60_000
    panels: list[tuple[str, Band, str]] = [
        (name, band, colour)
        for name, band, colour in (
            ("Charging power, kW", curves.recharge_power_kw, LINE_POWER),
            ("Energy taken in, kWh", curves.recharge_energy_kwh, LINE_ENERGY),
        )
        if np.isfinite(band.value[rows]).any()
    ]
    left, bottom, width, height = sheet.room()
    left, width, bottom, height = left + 0.5, width - 0.6, bottom + 0.48, height - 0.5
    panel = height / len(panels)
    for index, (name, band, colour) in enumerate(panels):
        last = index == len(panels) - 1
        place = (left, bottom + height - (index + 1) * panel, width, panel - 0.38)
        axes = sheet.axes(figure, place)
        axes.fill_between(minutes, band.low[rows], band.high[rows], color=colour,
                          alpha=BAND_ALPHA, linewidth=0)  # fmt: skip
        axes.plot(minutes, band.value[rows], color=colour, linewidth=1.6)
        axes.set_title(name, loc="left", size=shape.pt(10.5), color=colour, pad=4)
        axes.set_xlim(min(0.0, float(minutes[0])), float(minutes[-1]))
        axes.set_ylim(bottom=0)
        axes.tick_params(labelbottom=last)
        if recharge.trickle_s is not None:
            ends = recharge.trickle_s.value / 60
            axes.axvspan(0, ends, color=AMBER_WASH, alpha=0.6, linewidth=0)
            if index == 0:
                axes.annotate("trickle", (ends, 0.94), xycoords=("data", "axes fraction"),
                              xytext=(-4, 0), textcoords="offset points", ha="right", va="top",
                              size=shape.pt(9.5), color=AMBER, style="italic")  # fmt: skip
        if last:
            for step in recharge.energy_to_soc:
                at = np.interp(step.energy_kwh.value, band.value[rows], minutes)
                axes.plot([at], [step.energy_kwh.value], "o", markersize=3.5, color=EDGE)
                axes.annotate(f"{step.soc_pct:g} %", (at, step.energy_kwh.value), xytext=(-4, 3),
                              textcoords="offset points", ha="right", size=shape.pt(8.5),
                              color=INK_SOFT)  # fmt: skip
            axes.set_xlabel("Minutes since plug-in", size=shape.pt(10))
