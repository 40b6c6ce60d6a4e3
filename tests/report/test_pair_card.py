"""Two sessions as one picture for a film."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from ebbline.records.comparison import DifferingFact, Pair, PairedFigure
from ebbline.records.result import Quantity
from ebbline.report import pair_card
from ebbline.report.figures import Units

pytestmark = pytest.mark.slow

ONE, OTHER = Quantity(7901.0, 7882.0, 7921.0), Quantity(8500.0, 8480.0, 8520.0)
APART = Quantity(599.0, 571.0, 627.0)


def _picture(
    *figures: PairedFigure,
    names: tuple[str, str] = ("Car A", "Car B"),
    differs: tuple[DifferingFact, ...] = (),
    early: tuple[bool, bool] = (False, False),
) -> Image.Image:
    pair = Pair(("a", "b"), figures, differs)
    units = Units("km", "kWh/100km")
    return Image.open(io.BytesIO(pair_card.picture(pair, names, units, "ebbline", early)))


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


def test_nothing_runs_past_the_ruled_line_however_long_the_unit_or_what_differed() -> None:
    one, other = Quantity(1940.0, 1930.0, 1950.0), Quantity(94.0, 93.0, 95.0)
    apart = PairedFigure(
        "consumption.past_zero_wh_per_km", one, other, Quantity(-1846.1, -1846.9, -1845.3), False
    )
    long = tuple(
        DifferingFact(name, "a long answer " * 9, None)
        for name in ("vehicle.software", "conditions.surface", "conditions.climate")
    )
    edge = _picture(apart, differs=long).crop((1840, 0, 1920, 1080)).convert("RGB").getcolors()
    assert edge is not None
    assert len(edge) == 1


def test_a_car_that_shut_down_before_zero_is_not_merely_unknown() -> None:
    told = PairedFigure("reserve.distance_m", None, OTHER, None, None)
    assert _picture(told, early=(True, False)).tobytes() != _picture(told).tobytes()
