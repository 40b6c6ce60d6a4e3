"""Pictures: their sizes, that they can be opened, and that their labels keep apart."""

import io
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from report.subjects import EARLY, FULL, LAPS, ROUGH, document_of, sample, subject_of

from ebbline.report import chart_ladder
from ebbline.report.chart_ladder import spread
from ebbline.report.charts import foot_of, picture, pictures_of
from ebbline.report.look import (
    ALARM,
    AMBER,
    GROUND,
    INK,
    INK_SOFT,
    LINE_POWER,
    LINE_SPEED,
    NIGHT,
    SHAPES,
    SQUARE,
    TIDE,
    WIDE,
    Shape,
    Sheet,
)
from ebbline.report.png import png
from ebbline.report.setting_out import Ground, SettingOut


@pytest.mark.parametrize(
    ("name", "pictures"),
    [
        (FULL, {"headline", "ladder", "run", "fade", "recharge"}),
        (ROUGH, {"headline", "ladder", "run", "fade"}),
        (EARLY, {"run"}),
        (LAPS, {"run"}),
    ],
)
def test_only_what_the_evidence_allows_is_drawn(name: str, pictures: set[str]):
    assert set(pictures_of(sample(name))) == pictures


@pytest.mark.slow
@pytest.mark.parametrize(("shape", "size"), [("16x9", (1920, 1080)), ("1x1", (1440, 1440))])
def test_pictures_have_the_sizes_of_film_and_article(shape: str, size: tuple[int, int]):
    for name in pictures_of(sample(FULL)) if shape == "16x9" else ("headline", "ladder"):
        image = Image.open(io.BytesIO(picture(sample(FULL), name, SHAPES[shape], "png")))
        assert image.size == size
        assert np.asarray(image.convert("L")).std() > 5


def test_a_vector_picture_needs_no_typeface():
    """Text as outlines: it looks the same wherever it is opened."""
    root = ElementTree.fromstring(picture(sample(FULL), "ladder", WIDE, "svg"))
    kinds = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert "path" in kinds
    assert not kinds & {"text", "image", "script", "foreignObject"}


def test_the_same_session_gives_the_same_picture():
    one, other = sample(EARLY), replace(sample(EARLY))
    for form in ("png", "svg"):
        first, second = (picture(each, "run", SQUARE, form) for each in (one, other))  # type: ignore[arg-type]
        assert first == second
    assert one.drawings != other.drawings, "each drew its own"


def test_a_picture_is_drawn_once_for_all_its_forms():
    subject = replace(sample(EARLY))
    for form in ("png", "svg", "png"):
        picture(subject, "run", SQUARE, form)  # type: ignore[arg-type]
    assert list(subject.drawings) == [("run", SQUARE)]


def test_pixels_come_out_of_a_picture_file_as_they_went_in():
    """Read by Pillow."""
    pixels = np.random.default_rng(1).integers(0, 256, (7, 5, 4), dtype=np.uint8)
    image = Image.open(io.BytesIO(png(pixels, dpi=200)))
    image.load()
    assert image.mode == "RGBA"
    assert image.info["dpi"] == pytest.approx((200, 200), abs=0.02)
    assert np.array_equal(np.asarray(image), pixels)


def test_signs_of_a_formula_in_a_title_are_text():
    document = document_of(FULL)
    document["session"]["title"] = r"$\frac{1}{$ and $x^2$"
    assert picture(subject_of(document), "headline", WIDE, "png").startswith(b"\x89PNG")


places = st.lists(st.floats(0, 10), min_size=1, max_size=20).map(sorted)


@given(places)
def test_labels_keep_apart_in_order_and_inside(wanted: list[float]):
    step = 10.0 / len(wanted) * 0.9
    labels = spread(wanted, step, 0.0, 10.0)
    assert all(b - a >= step - 1e-9 for a, b in pairwise(labels))
    assert labels[0] >= step / 2 - 1e-9
    assert labels[-1] <= 10.0 - step / 2 + 1e-9


def test_a_label_with_room_stands_where_it_belongs():
    assert spread([2.0, 5.0, 5.0], 1.0, 0.0, 10.0) == pytest.approx([2.0, 4.5, 5.5])


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_a_picture_carries_its_caution_and_the_words_find_room(shape: Shape):
    subject = sample(FULL)
    for name in pictures_of(subject):
        foot = foot_of(subject, name)
        assert "nobody should count on a reserve past zero" in foot
        sheet = Sheet(shape, "t", "s", foot)
        with sheet as figure:
            (text,) = (text for text in figure.texts if text.get_text() == foot)
            box = text.get_window_extent()
        right, top = shape.width_in * figure.dpi, sheet.room()[1] * figure.dpi
        assert 0 < box.x0 < box.x1 < right
        assert 0 < box.y0 < box.y1 < top, "below what the picture draws on"


def test_the_ladder_tells_when_with_what_doubt_and_the_warnings_before_zero():
    subject = sample(FULL)
    warned = [entry for entry in subject.result.timeline if entry.kind == "warning"]
    with Sheet(WIDE, "t", "s", "f") as figure:
        chart_ladder.draw(subject, Sheet(WIDE, "t", "s", "f"), figure)
        said = [text.get_text() for axes in figure.axes for text in axes.texts]
    for entry in warned:
        assert subject.words(entry) in said
        assert subject.clock(entry.at_ms.value) in said
    assert "23.53 \u00b10.02 km" in said
    assert "nothing" in said


@pytest.mark.slow
@pytest.mark.parametrize("ground", ["night", "clear"])
def test_pictures_by_night_can_be_read_with_or_without_a_ground(ground: Ground):
    """Contrast of text 4.5 to 1 on dark ground (WCAG 2.2, 1.4.3); none of the day's ink is left."""
    subject = replace(sample(FULL), out=SettingOut(ground=ground))
    for name in pictures_of(subject):
        svg = picture(subject, name, WIDE, "svg").decode()
        for day in (GROUND, INK, INK_SOFT, TIDE, ALARM):
            assert day not in svg, name
        image = Image.open(io.BytesIO(picture(subject, name, WIDE, "png"))).convert("RGBA")
        corner = image.getpixel((2, 2))
        assert corner == ((7, 13, 18, 255) if ground == "night" else (*corner[:3], 0))  # type: ignore[index]
    dark = luminance(NIGHT[GROUND])
    for ink in (INK, INK_SOFT, TIDE, AMBER, ALARM, LINE_SPEED, LINE_POWER):
        assert (luminance(NIGHT[ink]) + 0.05) / (dark + 0.05) >= 4.5


def luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
