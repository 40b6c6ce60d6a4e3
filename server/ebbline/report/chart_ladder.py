"""The ladder: what happened on the way down, each rung where it was, with what was still left."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.figure import Figure

from ebbline.records.result import Quantity, TimelineEntry
from ebbline.report.figures import Dimension, Units, number
from ebbline.report.look import ALARM, EDGE, GROUND, INK, INK_SOFT, RULE, TIDE, Sheet
from ebbline.report.subject import Subject
from ebbline.report.tables import emphasis_of
from ebbline.vocabulary import EVENTS

EM_A_SIGN = 0.43  # how wide a sign of a label is, about


def can_draw(subject: Subject) -> bool:
    """Whether there are rungs with a place past zero."""
    return len(_rungs(subject)) > 1


def alt(subject: Subject) -> str:
    """What the picture shows, rung by rung."""
    said = [
        f"{subject.words(entry)} at {subject.units.text('distance', entry.past_zero_m)}"
        for entry, _ in _rungs(subject)
    ]
    return f"A ladder of events by distance past zero. {'; '.join(said)}."


def draw(subject: Subject, sheet: Sheet, figure: Figure) -> None:
    """Draw it: the rail to scale at the left, the labels spread beside it."""
    units, shape = subject.units, sheet.shape
    rungs = _rungs(subject)
    places = [past.value * units.scale("distance") for _, past in rungs]
    left, bottom, width, height = sheet.room()
    top_room = 0.3
    axes = sheet.axes(figure, (left + 0.42, bottom + 0.06, width - 0.42, height - top_room))
    axes.grid(visible=False)
    axes.spines[["bottom"]].set_visible(False)
    axes.set_xlim(0, width - 0.42)
    low, high = min(0.0, min(places)), max(places)
    margin = 0.02 * (high - low or 1.0)
    axes.set_ylim(high + margin, low - margin)
    axes.set_xticks([])
    axes.tick_params(axis="y", labelsize=shape.pt(9))
    right = width - 0.46
    middle = right - 1.16 * shape.type_scale  # where the column of distances ends
    words_from = 0.58 + 0.62 * shape.type_scale  # behind the times of day
    inches = height - top_room
    per_inch = (high - low + 2 * margin) / inches
    step = min(0.235 * shape.type_scale, inches / len(rungs))
    labels = spread([place / per_inch for place in places], step,
                    (low - margin) / per_inch, (high + margin) / per_inch)  # fmt: skip
    size = shape.pt(10.5) * min(1.0, step / (0.2 * shape.type_scale))
    for (entry, past), place, label in zip(rungs, places, labels, strict=True):
        y = label * per_inch
        emphasis = emphasis_of(entry.kind)
        colour = {"alarm": ALARM, "strong": TIDE, "plain": INK}[emphasis]
        wire = EDGE if colour == INK else colour
        axes.plot([0, 0.16, 0.42, 0.5], [place, place, y, y], color=wire,
                  linewidth=0.8, solid_joinstyle="round", clip_on=False, zorder=2)  # fmt: skip
        ends = [end * units.scale("distance") for end in (past.low, past.high)]
        axes.plot([0, 0], ends, color=colour, linewidth=3, clip_on=False, zorder=3)
        axes.plot([0], [place], marker="s" if emphasis == "alarm" else "o", markersize=5,
                  markerfacecolor=colour if colour != INK else GROUND, markeredgecolor=colour,
                  markeredgewidth=1.1, clip_on=False, zorder=4)  # fmt: skip
        room = middle - 1.2 * shape.type_scale - words_from
        words = _short(subject.words(entry), int(room / (size / 72 * EM_A_SIGN)))
        axes.text(0.58, y, subject.clock(entry.at_ms.value), size=size * 0.95, va="center",
                  color=INK_SOFT)  # fmt: skip
        axes.text(words_from, y, words, size=size, va="center", color=colour,
                  weight="bold" if colour != INK else "normal")  # fmt: skip
        for x, said in zip((middle, right), _left(subject, entry), strict=True):
            axes.text(x, y, said, size=size * 0.95, va="center", ha="right", color=INK_SOFT)
        axes.plot([0.58, right], [y + step * per_inch * 0.5] * 2, color=RULE, linewidth=0.5)
    heads = (
        (-0.42, "left", f"{units.unit('distance')} past zero"),
        (right, "right", "left until it stopped, \u00b1 95 % interval"),
    )
    for x, side, said in heads:
        axes.annotate(said, (x, 1), xycoords=("data", "axes fraction"), ha=side, xytext=(0, 6),
                      textcoords="offset points", va="bottom", size=shape.pt(9.5),
                      color=INK_SOFT)  # fmt: skip


def spread(places: Sequence[float], step: float, low: float, high: float) -> list[float]:
    """Label places at least ``step`` apart within [low, high], as near to ``places`` (ascending)
    as least squares allow (pooling neighbours that would touch).
    """
    blocks: list[list[float]] = []  # sum of wanted starts, count
    for index, place in enumerate(places):
        blocks.append([place - index * step, 1.0])
        while len(blocks) > 1 and blocks[-2][0] / blocks[-2][1] > blocks[-1][0] / blocks[-1][1]:
            last = blocks.pop()
            blocks[-1] = [blocks[-1][0] + last[0], blocks[-1][1] + last[1]]
    starts = [total / count for total, count in blocks for _ in range(int(count))]
    most = high - (len(places) - 0.5) * step
    return [
        min(max(start, low + step / 2), max(most, low + step / 2)) + index * step
        for index, start in enumerate(starts)
    ]


def _rungs(subject: Subject) -> list[tuple[TimelineEntry, Quantity]]:
    if subject.result.zero.t_ms is None:
        return []
    return sorted(
        (
            (entry, entry.past_zero_m)
            for entry in subject.result.timeline
            if entry.kind in EVENTS
            and EVENTS[entry.kind].rung
            and entry.past_zero_m is not None
            and math.isfinite(entry.past_zero_m.value)
            and (entry.past_zero_m.high >= 0 or entry.kind == "warning")
        ),
        key=lambda rung: rung[1].value,
    )


def _left(subject: Subject, entry: TimelineEntry) -> tuple[str, str]:
    """Distance and energy that were still left."""
    if entry.left_m is not None and entry.left_m.value <= 0:
        return "", "nothing"
    return (
        _with_doubt(subject.units, "distance", entry.left_m),
        _with_doubt(subject.units, "energy", entry.left_kwh),
    )


def _with_doubt(units: Units, dimension: Dimension, quantity: Quantity | None) -> str:
    """'7.90 \u00b10.02 km', as many digits as the doubt allows."""
    figure = units.figure(dimension, quantity)
    if quantity is None or figure is None:
        return ""
    half = (quantity.high - quantity.low) / 2 * units.scale(dimension)
    if not half:
        return f"{figure.value} {figure.unit}"
    decimals = len(figure.value.partition(".")[2])
    return f"{figure.value} \u00b1{number(half, decimals)} {figure.unit}"


def _short(words: str, longest: int) -> str:
    return words if len(words) <= longest else f"{words[: longest - 1].rstrip()}\u2026"
