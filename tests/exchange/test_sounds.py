"""Spoken notes are taken whole and as what they are said to be, or refused in words."""

from __future__ import annotations

import contextlib
import struct

import pytest

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange.sounds import MAX_SOUND_BYTES, MP4, WEBM, check_sound


def element(name: str, content: bytes, size: bytes | None = None) -> bytes:
    """RFC 8794: an id, the size with its marker, the content."""
    marked = size or (0x10000000 | len(content)).to_bytes(4, "big")
    return bytes.fromhex(name) + marked + content


UNKNOWN = b"\x01" + b"\xff" * 7  # RFC 8794, 6.2: a size that is not known yet
BLOCK = element("A3", b"\x81\x00\x00\x80" + bytes(40))  # SimpleBlock (RFC 9559, 5.1.3.4)
CLUSTER = element("1F43B675", b"", UNKNOWN) + element("E7", b"\x00") + BLOCK + BLOCK
HEAD = element("1A45DFA3", element("4286", b"\x01") + element("4282", b"webm"))
SEGMENT = element("18538067", b"", UNKNOWN) + element(
    "1549A966", element("2AD7B1", b"\x0f\x42\x40")
)
SOUND = HEAD + SEGMENT + CLUSTER + CLUSTER


def box(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I4s", 8 + len(content), kind) + content


BOXES = (
    box(b"ftyp", b"iso5\x00\x00\x00\x00mp41") + box(b"moov", bytes(20)) + box(b"mdat", bytes(50))
)
SOUNDS = {WEBM: SOUND, MP4: BOXES}


@pytest.mark.parametrize("media_type", SOUNDS)
def test_a_whole_sound_is_taken(media_type: str) -> None:
    check_sound(SOUNDS[media_type], media_type)


@pytest.mark.parametrize("media_type", SOUNDS)
def test_one_cut_short_anywhere_is_found_but_between_two_of_its_parts(media_type: str) -> None:
    whole = SOUNDS[media_type]
    ends = {WEBM: {len(whole) - len(BLOCK), len(whole) - 2 * len(BLOCK)}, MP4: set()}[media_type]
    taken = set()
    for size in range(len(whole) - 2 * len(BLOCK), len(whole)):
        with contextlib.suppress(InputError):
            check_sound(whole[:size], media_type)
            taken.add(size)
    assert taken <= ends


@pytest.mark.parametrize("sent_as", SOUNDS)
@pytest.mark.parametrize(
    "data", [b"", b"\x00" * 9, b"RIFF....WAVEfmt ", b"<svg/>", *SOUNDS.values()]
)
def test_anything_else_is_refused(data: bytes, sent_as: str) -> None:
    if SOUNDS[sent_as] != data:
        with pytest.raises(InputError):
            check_sound(data, sent_as)


def test_another_document_of_the_same_make_is_refused() -> None:
    with pytest.raises(InputError, match="is no audio/webm sound"):
        check_sound(SOUND.replace(b"webm", b"mine"), WEBM)


def test_other_types_and_sizes_are_refused() -> None:
    with pytest.raises(InputError, match="audio/wav"):
        check_sound(SOUND, "audio/wav")
    with pytest.raises(TooLargeError):
        check_sound(bytes(MAX_SOUND_BYTES + 1), WEBM)
