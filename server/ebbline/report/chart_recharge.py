"""Power and energy on the charger since plug-in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure

from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.curves import Band
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


@dataclass(frozen=True, slots=True)
class _Panel:
    """One line with its band, and the readings it goes by."""

    name: str
    band: Band
    noted_ms: IntArray
    noted: Band
    colour: str


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
    trickled = f" It trickled for {units.text('duration', recharge.trickle_s)}" + (
        f" at {units.text('power', recharge.trickle_kw)}."
    )
    took = f" Afterwards it took {units.text('power', recharge.full_power_kw)}."
    return (
        "Two lines over the minutes since plug-in, with what the display showed: charging power "
        "and energy taken in."
        + (trickled if recharge.trickle_s else "")
        + (took if recharge.full_power_kw else "")
    )


def draw(subject: Subject, sheet: Sheet, figure: Figure) -> None:
    """Draw it."""
    curves, recharge, shape = subject.curves, subject.result.recharge, sheet.shape
    assert recharge is not None
    assert recharge.plug_in_ms is not None
    size = curves.recharge_t_ms.size
    rows = np.unique(np.rint(np.linspace(0, size - 1, min(size, MOST_POINTS))).astype(np.int64))
    plug_in_ms = recharge.plug_in_ms
    minutes = _minutes(curves.recharge_t_ms[rows], plug_in_ms)
    panels = [
        panel
        for panel in (
            _Panel("Charging power, kW", curves.recharge_power_kw, curves.shown_t_ms,
                   curves.shown_power_kw, LINE_POWER),
            _Panel("Energy taken in, kWh", curves.recharge_energy_kwh, curves.counted_t_ms,
                   curves.counted_energy_kwh, LINE_ENERGY),
        )
        if np.isfinite(panel.band.value[rows]).any()
    ]  # fmt: skip
    trickle = _trickle(subject)
    left, bottom, width, height = sheet.room()
    left, width, bottom, height = left + 0.5, width - 0.6, bottom + 0.48, height - 0.5
    panel_height = height / len(panels)
    for index, panel in enumerate(panels):
        band, noted, colour = panel.band, panel.noted, panel.colour
        noted_at = _minutes(panel.noted_ms, plug_in_ms)
        last = index == len(panels) - 1
        place = (left, bottom + height - (index + 1) * panel_height, width,
                 panel_height - 0.38)  # fmt: skip
        axes = sheet.axes(figure, place)
        axes.fill_between(minutes, band.low[rows], band.high[rows], color=colour,
                          alpha=BAND_ALPHA, linewidth=0)  # fmt: skip
        axes.plot(minutes, band.value[rows], color=colour, linewidth=1.6)
        axes.vlines(noted_at, noted.low, noted.high, color=colour, linewidth=1.0)
        axes.plot(noted_at, noted.value, "o", markersize=3.0, color=colour)
        axes.set_title(panel.name, loc="left", size=shape.pt(10.5), color=colour, pad=4)
        axes.set_xlim(min(0.0, float(minutes[0])), float(minutes[-1]))
        axes.set_ylim(bottom=0)
        axes.tick_params(labelbottom=last)
        for begins, ends, alpha in trickle:
            axes.axvspan(begins, ends, color=AMBER_WASH, alpha=alpha, linewidth=0)
        if trickle and index == 0:
            axes.annotate("trickle", (trickle[0][1], 0.94), xycoords=("data", "axes fraction"),
                          xytext=(-4, 0), textcoords="offset points", ha="right", va="top",
                          size=shape.pt(9.5), color=AMBER, style="italic")  # fmt: skip
        if last:
            known = np.isfinite(band.value[rows])
            for step in recharge.energy_to_soc:
                at = np.interp(step.energy_kwh.value, band.value[rows][known], minutes[known])
                axes.plot([at], [step.energy_kwh.value], "o", markersize=3.5, color=EDGE)
                axes.annotate(f"{step.soc_pct:g} %", (at, step.energy_kwh.value), xytext=(-4, 3),
                              textcoords="offset points", ha="right", size=shape.pt(8.5),
                              color=INK_SOFT)  # fmt: skip
            axes.set_xlabel("Minutes since plug-in", size=shape.pt(10))


def _minutes(t_ms: IntArray, plug_in_ms: int) -> FloatArray:
    return np.asarray((t_ms - plug_in_ms) / 60_000)


def _trickle(subject: Subject) -> list[tuple[float, float, float]]:
    """When the trickle surely ran, and when it can have: minutes since plug-in, and how strongly
    each is shaded.
    """
    recharge, started = subject.result.recharge, subject.entry_of("charge_start")
    assert recharge is not None
    assert recharge.plug_in_ms is not None
    end = recharge.trickle_end_s
    if end is None:
        return []
    begins = 0.0 if started is None else (started.at_ms.value - recharge.plug_in_ms) / 60_000
    sure = begins + (end.low or 0.0) / 60
    open_end = [] if end.high is None else [(sure, begins + end.high / 60, 0.25)]
    return [(begins, sure, 0.6), *open_end]
