"""Whether bytes are the spoken note that they are said to be.

Walked to their end, so that a note cut short is found now and not at the desk: WebM by its elements
(EBML, RFC 8794, sections 4 to 6; Matroska, RFC 9559), MP4 by its boxes (ISO/IEC 14496-12, 4.2).
What is inside is not decoded.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange.boxes import boxes

WEBM, MP4 = "audio/webm", "audio/mp4"
MEDIA_TYPES = (WEBM, MP4)  # what browsers record
MAX_SOUND_BYTES = 4 * 1024 * 1024  # twenty seconds are some 100 kB, uncompressed 2 MB

_EBML, _DOC_TYPE, _SEGMENT, _CLUSTER = 0x1A45DFA3, 0x4282, 0x18538067, 0x1F43B675
_OPENED = frozenset({_EBML, _SEGMENT, _CLUSTER})  # whose elements are walked too


def is_sound(record: dict[str, Any]) -> bool:
    """Whether an entry of a session's photos is to be heard."""
    return str(record.get("media_type") or "").startswith("audio/")


def check_sound(data: bytes, media_type: str) -> None:
    """Refuse bytes that are no whole sound of that media type.

    Raises:
        TooLargeError: more bytes than we take.
        InputError: another type of file, or cut short.
    """
    if len(data) > MAX_SOUND_BYTES:
        raise TooLargeError("$", f"has {len(data):,} bytes; {MAX_SOUND_BYTES:,} are the most")
    if media_type == WEBM:
        found = dict(_elements(data))
        if found.get(_DOC_TYPE) != b"webm" or not {_EBML, _SEGMENT, _CLUSTER} <= set(found):
            raise InputError("$", f"is no {WEBM} sound")
    elif media_type == MP4:
        kinds = [kind for kind, _ in boxes(data, f"{MP4} sound")]
        if kinds[:1] != [b"ftyp"] or b"moov" not in kinds or not {b"mdat", b"moof"} & set(kinds):
            raise InputError("$", f"is no {MP4} sound")
    else:
        raise InputError("$", f"is sent as {media_type}; {', '.join(MEDIA_TYPES)} are taken")


def _elements(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Each element's id with its content, or with nothing where its own elements follow."""
    at = 0
    while at < len(data):
        name, at = _number(data, at, keep_marker=True)
        size, at = _number(data, at, keep_marker=False)
        if name in _OPENED:
            yield name, b""
            continue
        if size is None or at + size > len(data):
            raise InputError("$", f"is no whole {WEBM} sound: it ends inside an element")
        yield name or 0, data[at : at + size]
        at += size


def _number(data: bytes, at: int, *, keep_marker: bool) -> tuple[int | None, int]:
    """A number of variable length and where it ends; None: all ones, a size not known."""
    length = 9 - data[at].bit_length() if at < len(data) and data[at] else 0
    if not 1 <= length <= 8 or at + length > len(data):
        raise InputError("$", f"is no whole {WEBM} sound: no element begins at byte {at}")
    number = int.from_bytes(data[at : at + length], "big")
    bare = number & ((1 << 7 * length) - 1)
    unknown = bare == (1 << 7 * length) - 1
    return (number if keep_marker else None if unknown else bare), at + length
