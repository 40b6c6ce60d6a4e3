"""The pictures of a session by name: what each shows, whether it can be drawn, and drawing it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.figure import Figure

from ebbline.report import chart_card, chart_fade, chart_ladder, chart_recharge, chart_run
from ebbline.report.days import day_words
from ebbline.report.look import Drawing, ImageFormat, Shape, Sheet, by_night
from ebbline.report.setting import PICTURE_CAUTION
from ebbline.report.subject import Subject


@dataclass(frozen=True, slots=True)
class Chart:
    """One kind of picture. ``alt`` says in words what a session's picture shows, ``needs`` what
    has to be on record for it.
    """

    title: str
    caption: str
    needs: str
    can_draw: Callable[[Subject], bool]
    alt: Callable[[Subject], str]
    draw: Callable[[Subject, Sheet, Figure], None]


CHARTS = {
    "headline": Chart(
        "What was left past zero", "The headline figures with their 95 % intervals.",
        "Needs a reserve: a zero, the end of the drive, and positions or energy readings.",
        chart_card.can_draw, chart_card.alt, chart_card.draw,
    ),
    "ladder": Chart(
        "Ladder of warnings", "What happened on the way down, and how far the car still went.",
        "Needs events past zero and the positions of the drive.",
        chart_ladder.can_draw, chart_ladder.alt, chart_ladder.draw,
    ),
    "run": Chart(
        "The run", "Speed and energy over the distance; bands are 95 % intervals.",
        "Needs the positions of the drive.",
        chart_run.can_draw, chart_run.alt, chart_run.draw,
    ),
    "fade": Chart(
        "How power faded", "Power from the pack when floored (full throttle), and the speed it "
        "was good for; bars are 95 % intervals.",
        "Needs two floored stretches past zero, and energy readings.",
        chart_fade.can_draw, chart_fade.alt, chart_fade.draw,
    ),
    "recharge": Chart(
        "Waking up on the charger", "Power and energy taken in since plug-in; bands are 95 % "
        "intervals.",
        "Needs a plug-in and readings of charging power or energy.",
        chart_recharge.can_draw, chart_recharge.alt, chart_recharge.draw,
    ),
}  # fmt: skip


def pictures_of(subject: Subject) -> dict[str, Chart]:
    """The pictures that this session's evidence allows, by name."""
    return {name: chart for name, chart in CHARTS.items() if chart.can_draw(subject)}


def picture(subject: Subject, name: str, shape: Shape, form: ImageFormat) -> bytes:
    """One picture's bytes; ``name`` is one of ``pictures_of``."""
    if (name, shape) not in subject.drawings:
        subject.drawings[name, shape] = _drawn(subject, name, shape)
    return subject.drawings[name, shape].saved(form)


def _drawn(subject: Subject, name: str, shape: Shape) -> Drawing:
    chart = CHARTS[name]
    sheet = Sheet(shape, chart.title, _subtitle(subject), foot_of(subject, name))
    with sheet as figure:
        chart.draw(subject, sheet, figure)
    if not shape.bare and subject.out.ground != "paper":
        by_night(figure, clear=subject.out.ground == "clear")
    return Drawing(figure, shape)


def foot_of(subject: Subject, name: str) -> str:
    """What stands at a picture's foot: it travels alone, so its caution goes with it."""
    source = f"{CHARTS[name].caption}  {subject.engine}, evidence {subject.input_sha256[:12]}"
    return f"{PICTURE_CAUTION}\n{source}"


def _subtitle(subject: Subject) -> str:
    started = subject.started
    day = None
    if started is not None:
        day = day_words(subject.local(started.timestamp() * 1000))
    vehicle = subject.session.vehicle.label
    parts = (subject.title, vehicle if vehicle != subject.title else None, day)
    return " \u00b7 ".join(part for part in parts if part)
