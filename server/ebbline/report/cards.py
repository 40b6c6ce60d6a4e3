"""The data card: distance and energy past zero as small transparent pictures to lay over a film."""

from __future__ import annotations

import io
import zipfile
from functools import cache
from pathlib import Path
from typing import TypeAlias

import matplotlib
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from ebbline.records.result import Quantity
from ebbline.report.figures import UNKNOWN, Dimension
from ebbline.report.film import Camera
from ebbline.report.look import EDGE, GROUND, INK, INK_SOFT, NIGHT, TIDE
from ebbline.report.moments import Moment, moments, numbers
from ebbline.report.png import png_of_palette
from ebbline.report.subject import Subject

WIDTH, HEIGHT = 560, 148  # pixels, for a film of 1080 lines
OPACITY = 190  # of the panel, of 255
DECIMALS = 2  # of both figures: digits that come and go would flicker
_Lines: TypeAlias = tuple[str, str, str]  # a figure, its unit, its half width
_Pixels: TypeAlias = NDArray[np.uint8]  # rows by columns, of places in the palette
_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP can say: the same content, the same bytes

_LEVELS = 32  # from the panel to a colour; a card has no others, and so needs a byte a pixel
_INK, _SOFT, _TIDE, _RULE = (_LEVELS * place for place in range(1, 5))


def cards(subject: Subject, camera: Camera, per_second: float) -> bytes:
    """A ZIP of ``card_<frame>.png``, numbered from the film's first frame, and what they are."""
    halves: dict[tuple[int, _Lines], _Pixels] = {}
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
        f"{per_second:.5g} a second; card_{first:06d}.png belongs to second "
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
def _palette() -> NDArray[np.uint8]:
    """Colours by red, green, blue and opacity: the panel coming up from nothing, then for each
    colour of ours those between it and the panel.
    """
    panel = np.array([*_rgb(GROUND), OPACITY], float)
    empty = np.array([*_rgb(GROUND), 0], float)
    colours = (INK, INK_SOFT, TIDE, EDGE)
    share = np.linspace(0.0, 1.0, _LEVELS)[:, np.newaxis]
    ramps = [empty + share * (panel - empty)]
    ramps += [panel + share * (np.array([*_rgb(colour), 255]) - panel) for colour in colours]
    return np.concatenate(ramps).round().astype(np.uint8)


def _rgb(colour: str) -> tuple[int, ...]:
    return tuple(bytes.fromhex(NIGHT[colour].removeprefix("#")))


@cache
def _face(bold: bool, size: int) -> ImageFont.FreeTypeFont:
    name = "STIXGeneralBol.ttf" if bold else "STIXGeneral.ttf"
    return ImageFont.truetype(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name, size)


@cache
def _empty() -> _Pixels:
    fine = 4  # for corners without steps
    panel = Image.new("L", (WIDTH * fine, HEIGHT * fine), 0)
    edges = (0, 0, WIDTH * fine - 1, HEIGHT * fine - 1)
    ImageDraw.Draw(panel).rounded_rectangle(edges, radius=18 * fine, fill=255)
    pixels = _levels(panel.resize((WIDTH, HEIGHT), Image.Resampling.BOX))
    pixels[46, 24 : WIDTH - 24] = _RULE + _LEVELS - 1
    _write(pixels, (24, 34), "past zero", _face(False, 24), _INK, "ls")
    _write(pixels, (WIDTH - 24, 34), "\u00b1 95 % interval", _face(False, 19), _SOFT, "rs")
    return pixels


def _half(column: int, lines: _Lines) -> _Pixels:
    """The card's left or right half with its figure: of most cards one was drawn before."""
    half = WIDTH // 2
    pixels = _empty()[:, half * column : half * (column + 1)].copy()
    value, unit, doubt = lines
    right = half - (18 if column == 0 else 24)
    number_end = right - _face(False, 27).getlength(unit) - 10
    _write(pixels, (right, 104), unit, _face(False, 27), _INK, "rs")
    _write(pixels, (number_end, 104), value, _face(True, 56), _TIDE if column else _INK, "rs")
    _write(pixels, (right, 133), doubt, _face(False, 22), _SOFT, "rs")
    return pixels


def _write(
    pixels: _Pixels,
    place: tuple[float, float],
    words: str,
    face: ImageFont.FreeTypeFont,
    colour: int,
    anchor: str,
) -> None:
    """Set words on pixels; ``colour``: where in the palette its shades begin."""
    mask = Image.new("L", (pixels.shape[1], pixels.shape[0]), 0)
    ImageDraw.Draw(mask).text(place, words, font=face, fill=255, anchor=anchor)
    levels = _levels(mask)
    inked = levels > 0
    pixels[inked] = colour + levels[inked]


def _levels(mask: Image.Image) -> _Pixels:
    levels: _Pixels = (np.asarray(mask, np.uint16) * (_LEVELS - 1) // 255).astype(np.uint8)
    return levels


def _side_by_side(left: _Pixels, right: _Pixels) -> bytes:
    return png_of_palette(np.concatenate((left, right), axis=1), _palette())
