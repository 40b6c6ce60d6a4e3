"""When a photo may have been taken, read from data that an outside library has written."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from ebbline.errors import InputError
from ebbline.exchange.photo_times import proposed_time

# Exif 2.32 (CIPA DC-008), table 8: DateTimeOriginal, OffsetTimeOriginal, SubSecTimeOriginal.
ORIGINAL, OFFSET, FRACTION = 0x9003, 0x9011, 0x9291


def photo(form: str = "JPEG", **tags: str) -> bytes:
    names = {"original": ORIGINAL, "offset": OFFSET, "fraction": FRACTION}
    exif = Image.Exif()
    exif[0x0110] = "test camera"
    exif.get_ifd(0x8769).update({names[name]: value for name, value in tags.items()})
    held = io.BytesIO()
    Image.new("RGB", (640, 480), "#556677").save(held, form, exif=exif)
    return held.getvalue()


def ms(*parts: int) -> int:
    return int(datetime(*parts, tzinfo=UTC).timestamp() * 1000)  # type: ignore[misc]


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_the_cameras_own_time_is_read_in_the_sessions_zone(form: str):
    found = proposed_time(photo(form, original="2026:03:02 10:49:12"), "a.jpg", "Europe/Vienna")
    assert found is not None
    assert (found.t_ms, found.source) == (ms(2026, 3, 2, 9, 49, 12), "exif")


def test_an_offset_of_its_own_comes_before_the_sessions_zone():
    data = photo(original="2026:03:02 10:49:12", offset="-05:30", fraction="25")
    found = proposed_time(data, "a.jpg", "Europe/Vienna")
    assert found is not None
    assert found.t_ms == ms(2026, 3, 2, 16, 19, 12) + 250


def test_the_beginning_of_a_picture_is_enough():
    held = io.BytesIO()
    exif = Image.Exif()
    exif.get_ifd(0x8769)[ORIGINAL] = "2026:03:02 10:49:12"
    Image.effect_noise((2000, 1500), 80).save(held, "JPEG", exif=exif)
    assert len(held.getvalue()) > 200_000
    assert proposed_time(held.getvalue()[: 128 * 1024], "a.jpg") is not None


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("IMG_20260302_094912.jpg", ms(2026, 3, 2, 9, 49, 12)),
        ("2026-03-02 09.49.12.jpg", ms(2026, 3, 2, 9, 49, 12)),
        ("20260302-094912345.heic", ms(2026, 3, 2, 9, 49, 12) + 345),
        ("display 2026-03-02T09:49:12Z.png", ms(2026, 3, 2, 9, 49, 12)),
        ("IMG_1234.jpg", None),
        ("20261302_094912.jpg", None),  # no thirteenth month
        ("120260302_094912.jpg", None),
    ],
)
def test_a_name_may_say_it_too(name: str, expected: int | None):
    found = proposed_time(b"no picture at all", name)
    assert (None if found is None else found.t_ms) == expected
    assert found is None or found.source == "name"


def test_what_the_camera_wrote_comes_before_the_name():
    found = proposed_time(photo(original="2026:03:02 10:00:00"), "20260302_094912.jpg")
    assert found is not None
    assert found.source == "exif"


def test_a_zone_nobody_knows_is_refused():
    with pytest.raises(InputError, match="zone"):
        proposed_time(photo(), "a.jpg", "Mars/Olympus")


@pytest.mark.parametrize("said", ["0000:00:00 00:00:00", "    :  :     :  :  ", "yesterday", ""])
def test_a_time_the_camera_did_not_know_is_no_time(said: str):
    assert proposed_time(photo(original=said), "a.jpg") is None


@given(st.binary(max_size=200), st.text(max_size=60))
def test_any_bytes_and_any_name_give_a_moment_or_none(data: bytes, name: str):
    for start in (data, photo(original="2026:03:02 10:00:00")[:40] + data):
        found = proposed_time(start, name)
        assert found is None or found.source in {"exif", "name"}
