"""Whether bytes are the picture that they are said to be."""

from __future__ import annotations

import io
import struct
import warnings

from PIL import Image, UnidentifiedImageError

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange.archive import MAX_PHOTO_BYTES
from ebbline.exchange.boxes import boxes

HEIC = "image/heic"
PILLOW_FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}
MEDIA_TYPES = (*PILLOW_FORMATS, HEIC)
MAX_PIXELS = 200_000_000  # the largest phone cameras; what is larger only wants to fill memory

_HEIC_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"mif1"})


def check_picture(data: bytes, media_type: str) -> None:
    """Refuse bytes that are no whole picture of that media type.

    JPEG, PNG and WebP are decoded to their end, so that a picture cut short is found now and not
    at the desk. Of HEIC the boxes are walked (ISO/IEC 14496-12, 4.2): that finds another file
    and one cut short, not damage inside the picture.

    Raises:
        TooLargeError: more bytes or pixels than we take.
        InputError: another type of file, or damaged.
    """
    if len(data) > MAX_PHOTO_BYTES:
        raise TooLargeError("$", f"has {len(data):,} bytes; {MAX_PHOTO_BYTES:,} are the most")
    if media_type == HEIC:
        _check_boxes(data)
    elif media_type in PILLOW_FORMATS:
        _decode(data, media_type)
    else:
        raise InputError("$", f"is sent as {media_type}; {', '.join(MEDIA_TYPES)} are taken")


def _decode(data: bytes, media_type: str) -> None:
    try:
        with warnings.catch_warnings():
            # Our own limit on pixels is below; the library would warn first at a lower one.
            warnings.simplefilter("ignore")
            picture = Image.open(io.BytesIO(data), formats=[PILLOW_FORMATS[media_type]])
            with picture:
                width, height = picture.size
                if width * height > MAX_PIXELS:
                    raise TooLargeError("$", f"is a picture of {width} × {height} pixels")
                picture.draft("RGB", (width // 8, height // 8))  # JPEG: read it all, draw less
                picture.load()
    except UnidentifiedImageError:
        raise InputError("$", f"is no {media_type} picture") from None
    except (OSError, SyntaxError, ValueError, struct.error, Image.DecompressionBombError) as error:
        raise InputError("$", f"is no whole {media_type} picture: {error}") from None


def _check_boxes(data: bytes) -> None:
    kinds: list[bytes] = []
    for kind, content in boxes(data, f"{HEIC} picture"):
        if not kinds and (kind != b"ftyp" or not _brands(content) & _HEIC_BRANDS):
            break
        kinds.append(kind)
    if not {b"ftyp", b"meta"} <= set(kinds):
        raise InputError("$", f"is no {HEIC} picture")


def _brands(content: bytes) -> set[bytes]:
    """The brands in a file type box: the major one, and behind its version the compatible ones."""
    return {content[:4], *(content[k : k + 4] for k in range(8, len(content) - 3, 4))}
