"""The data card: distance and energy past zero as small transparent pictures to lay over a film."""

from __future__ import annotations

import io
import zipfile
from functools import cache
from pathlib import Path
from typing import TypeAlias

import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from ebbline.records.result import Quantity
from ebbline.report.figures import UNKNOWN, Dimension
from ebbline.report.film import Camera
from ebbline.report.moments import Moment, moments, numbers
from ebbline.report.png import png
from ebbline.report.subject import Subject

WIDTH, HEIGHT = 560, 148  # pixels, for a film of 1080 lines
PANEL, INK, SOFT = (7, 13, 18, 190), (232, 238, 240, 255), (163, 179, 187, 255)
TIDE, LINE = (88, 199, 184, 255), (62, 80, 90, 220)
DECIMALS = 2  # of both figures: digits that come and go would flicker
_Lines: TypeAlias = tuple[str, str, str]  # a figure, its unit, its half width
_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP can say: the same content, the same bytes


def cards(subject: Subject, camera: Camera, per_second: float) -> bytes:
    """A ZIP of ``card_<frame>.png``, numbered from the film's first frame, and what they are."""
    halves: dict[tuple[int, _Lines], Image.Image] = {}
    drawn: dict[tuple[_Lines, ...], bytes] = {}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr(zipfile.ZipInfo("read-me.txt", _TIME), _words(subject, camera, per_second))
        for moment in moments(subject, camera, per_second):
            lines = _lines(subject, moment)
            picture = drawn.get(lines)
            if picture is None:
                for half in enumerate(lines):
                    if half not in halves:
                        halves[half] = _half(*half)
                picture = drawn[lines] = _side_by_side(*(halves[each] for each in enumerate(lines)))
            archive.writestr(zipfile.ZipInfo(f"card_{moment.number:06d}.png", _TIME), picture)
    return packed.getvalue()


def card(subject: Subject, moment: Moment) -> bytes:
    """One card as PNG."""
    return _side_by_side(*(_half(*each) for each in enumerate(_lines(subject, moment))))


def _words(subject: Subject, camera: Camera, per_second: float) -> str:
    first, last = numbers(subject, camera, per_second)
    return (
        f"{subject.title}\n"
        f"Cards to lay over the film of {camera.words}.\n"
        f"{per_second:g} a second; card_{first:06d}.png belongs to second "
        f"{first / per_second:.3f} of the film, card_{last:06d}.png is the last.\n"
        f"{WIDTH} x {HEIGHT} pixels, PNG with transparency.\n"
        f"{subject.engine}, evidence {subject.input_sha256}\n"
    )


def _lines(subject: Subject, moment: Moment) -> tuple[_Lines, _Lines]:
    """What one card says: two figures, each with its half width."""
    return (
        _figure(subject, "distance", moment.past_zero_m),
        _figure(subject, "energy", moment.energy_past_zero_kwh),
    )


def _figure(subject: Subject, dimension: Dimension, quantity: Quantity | None) -> _Lines:
    units = subject.units
    unit = units.unit(dimension)
    if quantity is None:
        return "\u2013", unit, UNKNOWN
    scale = units.scale(dimension)
    half = max(quantity.high - quantity.value, quantity.value - quantity.low) * scale
    shown = f"{quantity.value * scale:.{DECIMALS}f}"
    if float(shown) == 0:
        shown = f"{0:.{DECIMALS}f}"
    doubt = max(half, 10.0**-DECIMALS)  # never finer than what is shown
    return shown.replace("-", "\u2212"), unit, f"\u00b1{doubt:.{DECIMALS}f}"


@cache
def _face(bold: bool, size: int) -> ImageFont.FreeTypeFont:
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name, size)


@cache
def _empty() -> Image.Image:
    image = Image.new("RGBA", (WIDTH, HEIGHT), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    draw.rounded_rectangle((0, 0, WIDTH - 1, HEIGHT - 1), radius=18, fill=PANEL)
    draw.rectangle((24, 46, WIDTH - 25, 46), fill=LINE)
    draw.text((24, 32), "past zero", font=_face(False, 20), fill=INK, anchor="ls")
    draw.text(
        (WIDTH - 24, 32), "\u00b1 95 % interval", font=_face(False, 16), fill=SOFT, anchor="rs"
    )
    return image


def _half(column: int, lines: _Lines) -> Image.Image:
    """The card's left or right half with its figure: of most cards one was drawn before."""
    half = WIDTH // 2
    image = _empty().crop((half * column, 0, half * (column + 1), HEIGHT))
    draw = ImageDraw.Draw(image)
    value, unit, doubt = lines
    right = half - (18 if column == 0 else 24)
    draw.text((right, 104), unit, font=_face(False, 24), fill=INK, anchor="rs")
    number_end = right - draw.textlength(unit, font=_face(False, 24)) - 10
    draw.text((number_end, 104), value, font=_face(True, 50), fill=TIDE if column else INK,
              anchor="rs")  # fmt: skip
    draw.text((right, 132), doubt, font=_face(False, 18), fill=SOFT, anchor="rs")
    return image


def _side_by_side(left: Image.Image, right: Image.Image) -> bytes:
    return png(np.concatenate((np.asarray(left), np.asarray(right)), axis=1))
