"""Speed and energy over the distance past zero."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.curves import Band
from ebbline.report.look import ALARM, BAND_ALPHA, EDGE, INK, LINE_ENERGY, LINE_SPEED, TIDE, Sheet
from ebbline.report.subject import Subject
from ebbline.vocabulary import EVENTS, LANDMARKS, event_name

BEFORE_ZERO = 0.18  # of the reserve's distance, shown for what it was like before
MOST_POINTS = 1500


def can_draw(subject: Subject) -> bool:
    """Whether there is a track to draw along."""
    return bool(np.isfinite(subject.curves.speed_mps.value).sum() > 1) and bool(
        np.isfinite(_along_m(subject)).sum() > 1
    )


def alt(subject: Subject) -> str:
    """What the picture shows."""
    units, reserve = subject.units, subject.result.reserve
    if reserve.distance_m is None:
        return "Two lines over the distance driven: speed, and below it energy."
    return (
        "Two lines over the distance past zero: speed, and below it energy used since zero, which "
        f"ends at {units.text('distance', reserve.distance_m)} and "
        f"{units.text('energy', reserve.energy_kwh)}."
    )


def draw(subject: Subject, sheet: Sheet, figure: Figure) -> None:
    """Draw it."""
    curves, units, shape = subject.curves, subject.units, sheet.shape
    along = _along_m(subject)
    rows = _rows(subject, along)
    x = along[rows] * units.scale("distance")
    has_energy = bool(np.isfinite(curves.energy_past_zero_kwh.value[rows]).any())
    left, bottom, width, height = sheet.room()
    left, width, bottom = left + 0.5, width - 0.55, bottom + 0.48
    height -= 0.46 + 0.2 * shape.type_scale  # the axis' name below, the marks' names above
    panel = (height - 0.36) / 2 if has_energy else height
    upper = sheet.axes(figure, (left, bottom + height - panel, width, panel - 0.18))
    _line(upper, x, curves.speed_mps, rows, units.scale("speed"), LINE_SPEED)
    upper.set_ylim(bottom=0)
    _name(upper, "Speed", units.unit("speed"), LINE_SPEED, shape.pt(10.5), shape.pt(15))
    lowest = upper
    if has_energy:
        lowest = sheet.axes(figure, (left, bottom, width, panel - 0.18))
        _line(lowest, x, curves.energy_past_zero_kwh, rows, 1.0, LINE_ENERGY)
        lowest.set_ylim(bottom=min(0.0, float(np.nanmin(curves.energy_past_zero_kwh.low[rows]))))
        _name(lowest, "Energy past zero", "kWh", LINE_ENERGY, shape.pt(10.5))
        upper.tick_params(labelbottom=False)
    of = "past zero" if subject.result.zero.t_ms is not None else "driven"
    lowest.set_xlabel(f"Distance {of}, {units.unit('distance')}", size=shape.pt(10))
    for axes in {upper, lowest}:
        axes.set_xlim(x[0], x[-1])
    for mark in _name_marks(upper, _marks(subject), shape.pt(8.5)):
        for axes in {upper, lowest}:
            axes.axvline(mark.x, color=mark.colour, linewidth=0.9, linestyle=(0, (4, 2)))


def _along_m(subject: Subject) -> FloatArray:
    curves = subject.curves
    past = curves.past_zero_m.value
    return past if np.isfinite(past).any() else curves.distance_m.value


def _rows(subject: Subject, along: FloatArray) -> IntArray:
    """The points from a little before zero to where the car stood, thinned."""
    known: BoolArray = np.isfinite(along) & np.isfinite(subject.curves.speed_mps.value)
    reserve = subject.result.reserve.distance_m
    if reserve is not None and reserve.value > 0 and subject.result.zero.t_ms is not None:
        known &= along >= -BEFORE_ZERO * reserve.value
    moving = known & (subject.curves.speed_mps.value > 0.3)
    if moving.sum() > 1:
        known[np.flatnonzero(moving)[-1] + 1 :] = False
    rows = np.flatnonzero(known)
    if rows.size > MOST_POINTS:
        rows = rows[np.rint(np.linspace(0, rows.size - 1, MOST_POINTS)).astype(np.int64)]
    return rows


def _line(axes: Axes, x: FloatArray, band: Band, rows: IntArray, scale: float, colour: str) -> None:
    axes.fill_between(x, band.low[rows] * scale, band.high[rows] * scale, color=colour,
                      alpha=BAND_ALPHA, linewidth=0)  # fmt: skip
    axes.plot(x, band.value[rows] * scale, color=colour, linewidth=1.5)


def _name(axes: Axes, name: str, unit: str, colour: str, size: float, pad: float = 4) -> None:
    axes.set_title(f"{name}, {unit}", loc="left", size=size, color=colour, pad=pad)


@dataclass(frozen=True, slots=True)
class _Mark:
    """Where the run turned, in the unit shown."""

    x: float
    name: str
    colour: str


def _marks(subject: Subject) -> list[_Mark]:
    found = []
    for kind in LANDMARKS:
        entry = subject.entry_of(kind)
        if entry is not None and entry.past_zero_m is not None:
            x = entry.past_zero_m.value * subject.units.scale("distance")
            colour = {"alarm": ALARM, "strong": TIDE, "plain": EDGE}[EVENTS[kind].emphasis]
            found.append(_Mark(x, event_name(kind), colour))
    return found


def _name_marks(axes: Axes, marks: list[_Mark], size: float) -> list[_Mark]:
    """Write the names above the axes; those that found room."""
    low, high = axes.get_xlim()
    taken: list[Bbox] = []
    named = []
    for mark in marks:
        if not low <= mark.x <= high:
            continue
        at_end = mark.x > low + 0.8 * (high - low)
        name = axes.annotate(
            mark.name, (mark.x, 1), xycoords=("data", "axes fraction"),
            xytext=(0, 3), textcoords="offset points", ha="right" if at_end else "left",
            va="bottom", size=size, color=INK if mark.colour == EDGE else mark.colour,
        )  # fmt: skip
        box = name.get_window_extent()
        if any(box.padded(6).overlaps(other) for other in taken):
            name.remove()
        else:
            taken.append(box)
            named.append(mark)
    return named
