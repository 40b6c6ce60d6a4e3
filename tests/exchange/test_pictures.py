"""Pictures are whole and of the type they are sent as, whatever their bytes begin with."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange.archive import MAX_PHOTO_BYTES
from ebbline.exchange.pictures import check_picture


def encoded(form: str) -> bytes:
    """A small picture of noise-like content, so that cutting it cuts what is needed."""
    picture = Image.new("RGB", (160, 120))
    picture.putdata([(k * 7 % 256, k * 13 % 256, k * 29 % 256) for k in range(160 * 120)])
    out = io.BytesIO()
    picture.save(out, form)
    return out.getvalue()


def box(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I4s", 8 + len(content), kind) + content


# The boxes that ISO/IEC 23008-12 asks of an image file, made by hand: no encoder is at hand.
HEIC = (
    box(b"ftyp", b"heic" + bytes(4) + b"mif1" + b"heic")
    + box(b"meta", bytes(40))
    + box(b"mdat", bytes(range(200)))
)
PICTURES = {
    "image/jpeg": encoded("JPEG"),
    "image/png": encoded("PNG"),
    "image/webp": encoded("WEBP"),
    "image/heic": HEIC,
}


@pytest.mark.parametrize("media_type", PICTURES)
def test_a_whole_picture_is_taken(media_type: str) -> None:
    check_picture(PICTURES[media_type], media_type)


@pytest.mark.parametrize("sent_as", PICTURES)
@pytest.mark.parametrize("really", PICTURES)
def test_a_picture_sent_as_another_type_is_refused(really: str, sent_as: str) -> None:
    if really != sent_as:
        with pytest.raises(InputError, match=sent_as):
            check_picture(PICTURES[really], sent_as)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.9])
@pytest.mark.parametrize("media_type", PICTURES)
def test_a_picture_cut_short_is_refused(media_type: str, share: float) -> None:
    data = PICTURES[media_type]
    with pytest.raises(InputError):
        check_picture(data[: int(len(data) * share)], media_type)


@pytest.mark.parametrize(
    "data",
    [
        b"<html>sign in to this network</html>",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"\xff\xd8\xff\xe0" + b"not what follows" * 40,
        b"\x89PNG\r\n\x1a\n" + bytes(100),
        b"RIFF\x24\x00\x00\x00WEBPVP8 " + bytes(30),
        box(b"ftyp", b"isom" + bytes(4) + b"mp41") + box(b"moov", bytes(30)),
        box(b"ftyp", b"heic" + bytes(4)),
        b"",
    ],
)
@pytest.mark.parametrize("media_type", PICTURES)
def test_what_is_no_picture_is_refused(media_type: str, data: bytes) -> None:
    with pytest.raises(InputError) as refused:
        check_picture(data, media_type)
    assert " object at 0x" not in str(refused.value)


def test_a_type_that_browsers_might_run_is_refused() -> None:
    with pytest.raises(InputError, match=r"image/svg\+xml"):
        check_picture(b"<svg/>", "image/svg+xml")


def test_a_picture_that_unpacks_to_gigabytes_is_refused_undrawn() -> None:
    """A few bytes of PNG can claim any size (PNG, third edition, 11.2.1)."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + content))
        return struct.pack(">I", len(content)) + kind + content + check

    header = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 2, 0, 0, 0)
    data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    with pytest.raises(InputError):
        check_picture(data, "image/png")


def test_more_bytes_than_we_take_are_refused() -> None:
    with pytest.raises(TooLargeError, match=f"{MAX_PHOTO_BYTES:,}"):
        check_picture(bytes(MAX_PHOTO_BYTES + 1), "image/jpeg")
