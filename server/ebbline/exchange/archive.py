"""The session file, as plain JSON or with its pictures: a ZIP of ``session.json`` and
``photos/<sha256>.<ext>``.

What comes in may be hostile: nothing is written to disk, names are matched and never used as
paths, and unpacking stops at a limit whatever the archive says of its sizes.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
import zlib
from typing import Any

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange.document import MAX_FILE_BYTES, dump_document, load_document
from ebbline.exchange.json_text import shown

MAX_PHOTO_BYTES = 32 * 1024 * 1024
MAX_PHOTOS_BYTES = 512 * 1024 * 1024  # of one archive, unpacked
MAX_ARCHIVE_BYTES = MAX_FILE_BYTES + MAX_PHOTOS_BYTES
DOCUMENT_NAME = "session.json"

_PHOTO_NAME = re.compile(r"photos/([0-9a-f]{64})\.[A-Za-z0-9]{1,8}", re.ASCII)
_EXTENSIONS = {
    "image/jpeg": "jpg",
    "image/png": "png",
    "image/webp": "webp",
    "image/heic": "heic",
    "image/heif": "heif",
    "image/avif": "avif",
    "audio/webm": "webm",
    "audio/mp4": "m4a",
}
_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP can say: the same content, the same bytes
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1
_UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    OSError,
    OverflowError,
    RuntimeError,
    ValueError,
)


def is_archive(data: bytes) -> bool:
    """Whether these bytes begin as a ZIP does (and no JSON can)."""
    return data.startswith((b"PK\x03\x04", b"PK\x05\x06"))


def refuse_size(size_bytes: int, start: bytes) -> None:
    """Refuse a file that is too large before reading more than its first few bytes.

    Raises:
        TooLargeError: more than we take of its kind.
    """
    most = MAX_ARCHIVE_BYTES if is_archive(start) else MAX_FILE_BYTES
    if size_bytes > most:
        raise TooLargeError("$", f"has {size_bytes:,} bytes; {most:,} are the most we take")


def load_file(data: bytes) -> tuple[dict[str, Any], dict[str, bytes]]:
    """A session file's document and its photos by hash; a plain JSON file has none.

    Raises:
        TooLargeError: more than we take.
        InputError: names the place and what is wrong there.
    """
    return load_archive(data) if is_archive(data) else (load_document(data), {})


def load_archive(data: bytes) -> tuple[dict[str, Any], dict[str, bytes]]:
    """Read a session archive.

    Returns:
        The document, unchanged, and each photo's bytes under its SHA-256 (lower-case hex).

    Raises:
        TooLargeError: the archive or what it unpacks to is larger than we take.
        InputError: not a ZIP; a name that does not belong there; a photo whose bytes are not
            what its name says, that the document doesn't name, or that is missing; or the
            document itself is refused (its places are then within ``session.json``).
    """
    if len(data) > MAX_ARCHIVE_BYTES:
        raise TooLargeError("$", f"has {len(data):,} bytes, more than we take")
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except _UNREADABLE as error:
        raise InputError("$", f"is not a readable ZIP: {error}") from None
    with archive:
        return _read(archive)


def sha256_of(data: bytes) -> str:
    """The hash that names a file or a photo."""
    return hashlib.sha256(data).hexdigest()


def dump_archive(document: dict[str, Any], photos: dict[str, bytes]) -> bytes:
    """Write a session archive; the same content gives the same bytes.

    Args:
        document: a checked session document.
        photos: the bytes of every photo that it names, under their SHA-256, and no others.

    Raises:
        InputError: photos and document don't belong together.
    """
    _check_photos(document, {digest: f"photos/{digest}" for digest in photos})
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        entry = zipfile.ZipInfo(DOCUMENT_NAME, _TIME)
        archive.writestr(entry, dump_document(document), zipfile.ZIP_DEFLATED)
        for photo in document.get("photos") or ():
            digest = photo["sha256"]
            _check_digest(photos[digest], digest, f"photos/{digest}")
            extension = _EXTENSIONS.get(photo.get("media_type") or "", "bin")
            entry = zipfile.ZipInfo(f"photos/{digest}.{extension}", _TIME)
            archive.writestr(entry, photos[digest], zipfile.ZIP_STORED)
    return packed.getvalue()


def _read(archive: zipfile.ZipFile) -> tuple[dict[str, Any], dict[str, bytes]]:
    document_entry: zipfile.ZipInfo | None = None
    photo_entries: dict[str, zipfile.ZipInfo] = {}
    for entry in archive.infolist():
        name = entry.orig_filename
        match = _PHOTO_NAME.fullmatch(name)
        if entry.flag_bits & _ENCRYPTED:
            raise InputError(_place(name), "is encrypted")
        if entry.compress_type not in _METHODS:
            raise InputError(_place(name), "is packed in a way we don't read; use deflate")
        if name == "photos/":
            continue
        if name == DOCUMENT_NAME and document_entry is None:
            document_entry = entry
        elif match and match[1] not in photo_entries:
            photo_entries[match[1]] = entry
        elif match or name == DOCUMENT_NAME:
            raise InputError(_place(name), "is in the archive twice")
        else:
            problem = f"does not belong in a session archive ({DOCUMENT_NAME} and photos/ do)"
            raise InputError(_place(name), problem)
    if document_entry is None:
        raise InputError(DOCUMENT_NAME, "is missing from the archive")
    document = load_document(_unpack(archive, document_entry, MAX_FILE_BYTES))
    _check_photos(document, {digest: entry.filename for digest, entry in photo_entries.items()})
    photos: dict[str, bytes] = {}
    room = MAX_PHOTOS_BYTES
    for digest, entry in photo_entries.items():
        photos[digest] = _unpack(archive, entry, min(MAX_PHOTO_BYTES, room))
        room -= len(photos[digest])
        _check_digest(photos[digest], digest, entry.filename)
    return document, photos


def _unpack(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most_bytes: int) -> bytes:
    try:
        with archive.open(entry) as packed:
            data = packed.read(most_bytes + 1)
    except _UNREADABLE as error:
        raise InputError(_place(entry.filename), f"can't be unpacked: {error}") from None
    if len(data) > most_bytes:
        raise TooLargeError(entry.filename, f"unpacks to more than the {most_bytes:,} bytes left")
    return data


def _check_photos(document: dict[str, Any], held: dict[str, str]) -> None:
    """``held`` maps each photo's digest to its place in the archive."""
    named = {photo["sha256"] for photo in document.get("photos") or ()}
    for i, photo in enumerate(document.get("photos") or ()):
        if photo["sha256"] not in held:
            problem = f"{photo['sha256']} has no picture in the archive"
            raise InputError(f"photos[{i}].sha256", problem)
    for digest, place in held.items():
        if digest not in named:
            raise InputError(place, "is not named by the document's photos")


def _check_digest(data: bytes, digest: str, place: str) -> None:
    found = sha256_of(data)
    if found != digest:
        raise InputError(place, f"holds other bytes than its name says: their SHA-256 is {found}")


def _place(name: str) -> str:
    return name if name.isprintable() and len(name) <= 100 else shown(name)
