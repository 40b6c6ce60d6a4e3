"""A photo of the car's display: plain invented digits of seven strokes each.

Nothing but whole rectangles and a font of dots, so that the pixels are the same on any processor.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping

from PIL import Image, ImageDraw, ImageFont

from simulator.display import Shown

_SIZE = (960, 540)
_PANEL = (60, 50, 899, 489)  # left, top, right, bottom
_BLACK, _PANEL_GREY, _INK, _DIM = "#050607", "#15191c", "#e8f1ee", "#8fa3a0"
_DIGIT = (56, 100)  # width, height
_STROKE = 12
_STEP = 76  # from digit to digit
_POINT_STEP = 28
_LABEL_SCALE = 3
_LABELS = {
    "trip_energy": "TRIP ENERGY",
    "trip_distance": "TRIP",
    "soc": "BATTERY",
    "charge_energy": "CHARGED",
    "charge_power": "POWER IN",
}
# Which strokes a digit has, from the top clockwise and the middle last.
_STROKES = ("012345", "12", "01346", "01236", "1256", "02356", "023456", "012", "0123456", "012356")


def drawn(shown: Mapping[str, Shown]) -> bytes:
    """The display with these figures below each other, at most three, as a PNG."""
    picture = Image.new("RGB", _SIZE, _BLACK)
    pen = ImageDraw.Draw(picture)
    pen.rectangle(_PANEL, fill=_PANEL_GREY)
    for row, (quantity, figure) in enumerate(shown.items()):
        top = _PANEL[1] + 24 + 140 * row
        _write(picture, (_PANEL[0] + 30, top + 36), _LABELS[quantity], _DIM)
        _figure(pen, (_PANEL[0] + 300, top), figure)
        _write(picture, (_PANEL[2] - 130, top + 64), figure.unit, _INK)
    packed = io.BytesIO()
    picture.save(packed, "PNG", optimize=True)
    return packed.getvalue()


def _figure(pen: ImageDraw.ImageDraw, at: tuple[int, int], shown: Shown) -> None:
    places = 0 if shown.resolution >= 1 else 1
    left, top = at
    for sign in f"{shown.value:.{places}f}":
        if sign == ".":
            foot = top + _DIGIT[1]
            pen.rectangle((left, foot - _STROKE, left + _STROKE - 1, foot - 1), fill=_INK)
            left += _POINT_STEP
            continue
        for stroke in _strokes(int(sign), left, top):
            pen.rectangle(stroke, fill=_INK)
        left += _STEP


def _strokes(digit: int, left: int, top: int) -> Iterator[tuple[int, int, int, int]]:
    """The rectangles of a digit: left, top, right, bottom, all included."""
    width, height = _DIGIT
    right, bottom = left + width - 1, top + height - 1
    middle = top + height // 2
    thick, half = _STROKE - 1, _STROKE // 2
    everything = (
        (left, top, right, top + thick),
        (right - thick, top, right, middle),
        (right - thick, middle, right, bottom),
        (left, bottom - thick, right, bottom),
        (left, middle, left + thick, bottom),
        (left, top, left + thick, middle),
        (left, middle - half, right, middle + half - 1),
    )
    return (everything[int(stroke)] for stroke in _STROKES[digit])


def _write(picture: Image.Image, at: tuple[int, int], text: str, ink: str) -> None:
    """Words in the library's font of dots, each dot as large as several pixels."""
    font = ImageFont.load_default_imagefont()
    left, top, right, bottom = (round(side) for side in font.getbbox(text))
    dots = Image.new("1", (right - left, bottom - top))
    ImageDraw.Draw(dots).text((-left, -top), text, fill=1, font=font)
    large = dots.resize(
        (dots.width * _LABEL_SCALE, dots.height * _LABEL_SCALE), Image.Resampling.NEAREST
    )
    picture.paste(ink, at, large)
