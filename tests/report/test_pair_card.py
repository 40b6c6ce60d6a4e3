"""Two sessions as one picture for a film."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from ebbline.records.comparison import Pair, PairedFigure
from ebbline.records.result import Quantity
from ebbline.report import pair_card
from ebbline.report.figures import Units

pytestmark = pytest.mark.slow

ONE, OTHER = Quantity(7901.0, 7882.0, 7921.0), Quantity(8500.0, 8480.0, 8520.0)
APART = Quantity(599.0, 571.0, 627.0)


def _picture(*figures: PairedFigure, names: tuple[str, str] = ("Car A", "Car B")) -> Image.Image:
    pair = Pair(("a", "b"), figures, ())
    return Image.open(io.BytesIO(pair_card.picture(pair, names, Units("km"), "ebbline")))


def test_it_fills_the_film_and_the_same_pair_gives_the_same_picture() -> None:
    told = PairedFigure("reserve.distance_m", ONE, OTHER, APART, False)
    picture = _picture(told)
    assert picture.size == (1920, 1080)
    assert picture.tobytes() == _picture(told).tobytes()


def test_a_pair_of_which_nothing_is_known_and_endless_names_are_drawn_as_well() -> None:
    empty = _picture(names=("A name " * 40, "B"))
    assert empty.size == (1920, 1080)
    assert empty.tobytes() != _picture(names=("A", "B")).tobytes()
    # the long name ends before the second column begins: the gap between them is bare ground
    gap = empty.crop((690, 250, 720, 300)).convert("RGB").getcolors()
    assert gap is not None
    assert len(gap) == 1
