"""Our own look for pictures: paper and ink, a book face, colours as in ``pwa/shared/theme.css``.

The faces are those that matplotlib carries, so that a picture is the same on every machine.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal, TypeAlias

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex, to_rgba
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from ebbline.report.png import png

GROUND, SHEET, INK, INK_SOFT = "#f5f1e8", "#fffdf8", "#14212b", "#4b5a63"
RULE, EDGE, TIDE, TIDE_WASH = "#cdc5b4", "#7b7565", "#0b6a66", "#d7e9e4"
AMBER, AMBER_WASH, ALARM = "#8a4b00", "#fbe6c4", "#a3192b"
LINE_SPEED, LINE_ENERGY, LINE_SOC, LINE_POWER = "#2b5fa8", "#0b6a66", "#8a4b00", "#7a2f74"
BAND_ALPHA = 0.2


# Each colour as it is by night, on dark ground and over a film.
NIGHT = {
    GROUND: "#070d12", SHEET: "#101a22", INK: "#e8eef0", INK_SOFT: "#a3b3bb", RULE: "#25343f",
    EDGE: "#6d818d", TIDE: "#58c7b8", TIDE_WASH: "#11332f", AMBER: "#f0b35c",
    AMBER_WASH: "#3a2807", ALARM: "#ff8b8b", LINE_SPEED: "#7fb0f5", LINE_POWER: "#d79ad1",
}  # fmt: skip

ImageFormat: TypeAlias = Literal["png", "svg"]

_STYLE: dict[str, Any] = {
    "font.family": ["STIXGeneral", "DejaVu Sans"],
    "mathtext.fontset": "stix",
    "svg.fonttype": "path",
    "svg.hashsalt": "ebbline",
    "axes.edgecolor": EDGE,
    "axes.linewidth": 0.7,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": EDGE,
    "ytick.color": EDGE,
    "xtick.labelcolor": INK_SOFT,
    "ytick.labelcolor": INK_SOFT,
    "xtick.direction": "out",
    "ytick.direction": "out",
    "lines.solid_capstyle": "round",
    "axes.titley": 1.0,  # where it would come to stand anyway, had all labels been measured
    "axes.unicode_minus": True,
    "text.parse_math": False,  # what somebody typed is text, whatever signs it has
}
_DRAWING = threading.Lock()  # matplotlib's settings are the process's, not a figure's


@dataclass(frozen=True, slots=True)
class Shape:
    """A picture's size in inches, its pixels per inch, and how large type is set in it.

    ``bare``: without ground, title and foot, for a page that has its own.
    """

    width_in: float
    height_in: float
    dpi: int
    type_scale: float = 1.0
    bare: bool = False

    def pt(self, size: float) -> float:
        """A type size in points."""
        return size * self.type_scale


WIDE = Shape(9.6, 5.4, 200, 1.18)  # 16:9, 1920 by 1080
SQUARE = Shape(7.2, 7.2, 200, 1.0)  # 1:1, 1440 by 1440
PAGE = Shape(7.0, 3.5, 200, 0.84, bare=True)  # across a printed page
SHAPES = {"16x9": WIDE, "1x1": SQUARE}


@contextmanager
def _our_look() -> Iterator[None]:
    with _DRAWING, mpl.rc_context(_STYLE):  # type: ignore[arg-type]  # its keys are literals
        yield


def by_night(figure: Figure, *, clear: bool) -> None:
    """Change a finished drawing's colours to those by night; ``clear`` takes its ground away."""
    for artist in figure.findobj():
        for name in ("color", "facecolor", "edgecolor", "markerfacecolor", "markeredgecolor"):
            get, put = getattr(artist, f"get_{name}", None), getattr(artist, f"set_{name}", None)
            if get is not None and put is not None:
                put(_nightly(get()))
    if clear:
        figure.patch.set_facecolor("none")


def _nightly(colour: Any) -> Any:
    """One colour or several, as matplotlib holds them; what is none of ours stays."""
    if isinstance(colour, np.ndarray) and colour.ndim == 2:
        return [_nightly(tuple(one)) for one in colour]
    red, green, blue, opacity = to_rgba(colour)
    night = NIGHT.get(to_hex((red, green, blue)))
    return colour if night is None or not opacity else to_rgba(night, opacity)


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture as it was drawn, saved at most once in each form."""

    figure: Figure
    shape: Shape
    _saved: dict[ImageFormat, bytes] = field(default_factory=dict)

    def saved(self, form: ImageFormat) -> bytes:
        """Its bytes; the same figure gives the same bytes."""
        if form not in self._saved:
            with _our_look():
                self._saved[form] = self._svg() if form == "svg" else self._png()
        return self._saved[form]

    def _svg(self) -> bytes:
        held = io.BytesIO()
        metadata = {"Date": None, "Creator": "Ebbline"}
        self.figure.savefig(held, format="svg", dpi=self.shape.dpi, metadata=metadata)
        return held.getvalue()

    def _png(self) -> bytes:
        measured_at = self.figure.dpi
        self.figure.set_dpi(self.shape.dpi)
        canvas = FigureCanvasAgg(self.figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        self.figure.set_dpi(measured_at)
        pixels = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
        return png(pixels, self.shape.dpi)


class Sheet:
    """A context in which to draw one picture in our look."""

    def __init__(self, shape: Shape, title: str, subtitle: str, foot: str) -> None:
        self.shape = shape
        self._words = (title, subtitle, foot)
        self._look = _our_look()

    def __enter__(self) -> Figure:
        """An empty sheet with its words on it."""
        self._look.__enter__()
        shape = self.shape
        figure = Figure(figsize=(shape.width_in, shape.height_in))
        FigureCanvasAgg(figure)  # measures text
        figure.patch.set_facecolor("none" if shape.bare else GROUND)
        if not shape.bare:
            title, subtitle, foot = self._words
            left = self.across(0.42)
            figure.text(left, self.up(0.36), title, size=shape.pt(19), va="top", color=INK)
            figure.text(left, self.up(0.80), subtitle, size=shape.pt(10.5), va="top",
                        color=INK_SOFT, style="italic")  # fmt: skip
            figure.text(left, 0.22 / shape.height_in, foot, size=shape.pt(7), va="bottom",
                        color=INK_SOFT)  # fmt: skip
        return figure

    def __exit__(self, *error: object) -> None:
        """Leave matplotlib's settings as they were."""
        self._look.__exit__(None, None, None)

    def across(self, inches: float) -> float:
        """Inches from the left as a share of the width."""
        return inches / self.shape.width_in

    def up(self, inches: float) -> float:
        """Inches from the top as a share of the height."""
        return 1 - inches / self.shape.height_in

    def room(self) -> tuple[float, float, float, float]:
        """What the words leave free, inches: left, bottom, width, height."""
        shape = self.shape
        if shape.bare:
            return 0.0, 0.0, shape.width_in, shape.height_in
        return 0.42, 0.62, shape.width_in - 0.84, shape.height_in - 0.62 - 1.25

    def axes(self, figure: Figure, inches: tuple[float, float, float, float]) -> Axes:
        """Axes at a place in inches: left, bottom, width, height."""
        width, height = self.shape.width_in, self.shape.height_in
        left, bottom, across, high = inches
        axes = figure.add_axes((left / width, bottom / height, across / width, high / height))
        axes.set_facecolor("none")
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(labelsize=self.shape.pt(9), length=3, width=0.7)
        axes.grid(axis="y", color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.yaxis.set_major_locator(MaxNLocator(nbins=5, min_n_ticks=3))
        return axes
