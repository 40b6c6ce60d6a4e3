"""When a photo may have been taken: a proposal from the picture's own data or its name.

Phones strip this from what a web page gets, and a camera's clock is as wrong as its owner let it
be: nothing is stored until somebody has looked.
"""

from __future__ import annotations

import io
import re
import struct
import warnings
import zoneinfo
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import Literal

from PIL import Image

from ebbline.errors import InputError
from ebbline.exchange.json_text import shown

Source = Literal["exif", "name"]

# Exif 2.32 (CIPA DC-008), table 8.
_EXIF_IFD, _ORIGINAL, _OFFSET, _FRACTION = 0x8769, 0x9003, 0x9011, 0x9291
# 20260302_094912, 2026-03-02 09.49.12, 20260302-094912345 and the like, anywhere in a name.
_NAME = re.compile(
    r"(?<!\d)(20\d\d)[-_.]?(\d\d)[-_.]?(\d\d)[ T_.-]{0,3}"
    r"(\d\d)[-_.:h]?(\d\d)[-_.:m]?(\d\d)(\d{3})?(?!\d)"
)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class PhotoTime:
    """A moment in milliseconds since the Unix epoch, and where it was found, in words."""

    t_ms: int
    source: Source
    said: str


def proposed_time(start: bytes, name: str, zone: str | None = None) -> PhotoTime | None:
    """When a photo may have been taken; None where nothing says so.

    Args:
        start: the picture's first bytes; the time stands well within the first 128 KB.
        name: its file name.
        zone: IANA zone of times that say no offset; UTC when nobody stated one.

    Raises:
        InputError: no such zone.
    """
    local = _zone(zone)
    return _from_exif(start, local) or _from_name(name, local)


def _from_exif(start: bytes, local: tzinfo) -> PhotoTime | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore"
            )  # what is broken in the picture's data is not our matter
            with Image.open(io.BytesIO(start)) as picture:
                tags = picture.getexif().get_ifd(_EXIF_IFD)
    except (OSError, SyntaxError, ValueError, struct.error, Image.DecompressionBombError):
        return None
    said = str(tags.get(_ORIGINAL) or "").strip("\0 ")
    match = re.fullmatch(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d):(\d\d):(\d\d)", said)
    if match is None:
        return None
    offset = re.fullmatch(r"([+-])(\d\d):(\d\d)", str(tags.get(_OFFSET) or "").strip("\0 "))
    zone = local
    if offset is not None:
        minutes = int(offset[2]) * 60 + int(offset[3])
        zone = timezone(timedelta(minutes=-minutes if offset[1] == "-" else minutes))
    fraction = re.match(r"\d+", str(tags.get(_FRACTION) or ""))
    moment = _moment([int(part) for part in match.groups()], zone)
    if moment is None:
        return None
    extra_ms = round(float(f"0.{fraction[0]}") * 1000) if fraction else 0
    return PhotoTime(moment + extra_ms, "exif", f"{said}{offset[0] if offset else ''}")


def _from_name(name: str, local: tzinfo) -> PhotoTime | None:
    match = _NAME.search(name)
    if match is None:
        return None
    moment = _moment([int(part) for part in match.groups()[:6]], local)
    if moment is None:
        return None
    return PhotoTime(moment + int(match[7] or 0), "name", match[0])


def _moment(parts: list[int], zone: tzinfo) -> int | None:
    year, month, day, hour, minute, second = parts
    try:
        moment = datetime(year, month, day, hour, minute, second, tzinfo=zone)
    except ValueError:
        return None
    return (moment - _EPOCH) // timedelta(milliseconds=1)


def _zone(name: str | None) -> tzinfo:
    if name is None:
        return UTC
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError("zone", f"is {shown(name)}, not a known time zone") from None
