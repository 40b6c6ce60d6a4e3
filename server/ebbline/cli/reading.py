"""Reading a file that somebody names on the command line."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange.session_file import MAX_ARCHIVE_BYTES, refuse_size


def read(path: Path) -> bytes:
    """The content of a file given on the command line; its size is looked at first.

    Raises:
        InputError: it can't be read.
        TooLargeError: it has more bytes than we take.
    """
    try:
        with path.open("rb") as file:
            status = os.fstat(file.fileno())
            start = file.read(4)
            if stat.S_ISREG(status.st_mode):
                refuse_size(status.st_size, start)
            content = start + file.read(MAX_ARCHIVE_BYTES)
            if file.read(1):
                raise TooLargeError("$", f"has more than {MAX_ARCHIVE_BYTES:,} bytes")
            return content
    except OSError as error:
        raise InputError(str(path), error.strerror or "can't be read") from error
