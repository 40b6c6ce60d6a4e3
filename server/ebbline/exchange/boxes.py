"""Files made of boxes, one behind the other (ISO/IEC 14496-12, 4.2): pictures and sounds."""

from __future__ import annotations

import struct
from collections.abc import Iterator

from ebbline.errors import InputError


def boxes(data: bytes, what: str) -> Iterator[tuple[bytes, bytes]]:
    """Each box's type and content.

    Raises:
        InputError: the file ends inside a box; ``what`` names what it should be.
    """
    at = 0
    while at < len(data):
        if at + 8 > len(data):
            raise InputError("$", f"is no whole {what}: it ends inside a box")
        size, kind = struct.unpack_from(">I4s", data, at)
        head = 8
        if size == 1 and at + 16 <= len(data):
            (size,) = struct.unpack_from(">Q", data, at + 8)
            head = 16
        elif size == 0:  # the last one, up to the end of the file
            size = len(data) - at
        if size < head or at + size > len(data):
            raise InputError("$", f"is no whole {what}: its box at byte {at} is cut short")
        yield kind, data[at + head : at + size]
        at += size
