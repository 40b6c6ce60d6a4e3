"""What another device recorded: the pieces of a GPX or CSV file, and telling the two apart."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from typing import Any, Literal

from ebbline.errors import TooLargeError

MAX_RECORDING_BYTES = 32 * 1024 * 1024

Kind = Literal["archive", "document", "gpx", "csv"]


@dataclass(frozen=True, slots=True)
class Recording:
    """Raw pieces of a session document, and what the reader of the file has to be told.

    Every piece is checked as in a session file. ``written_from``: what the file says of the session
    that it was written from.
    """

    breadcrumbs: list[dict[str, Any]] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)
    logs: list[dict[str, Any]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    written_from: str | None = None

    def devices(self) -> list[str]:
        """Who recorded it: each device once, in the order of the pieces."""
        pieces = [*self.breadcrumbs, *self.events, *self.logs]
        return list(dict.fromkeys(piece["device"] for piece in pieces))

    def count_fixes(self) -> int:
        """Fixes of all breadcrumbs together."""
        return sum(len(entry["seq"]) for entry in self.breadcrumbs)

    def count_log_rows(self) -> int:
        """Rows of all logs together."""
        return sum(len(log["t_ms"]) for log in self.logs)


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a recording came from: the file's name and hash, and its device if one was named."""

    name: str
    sha256: str
    device: str | None = None

    @classmethod
    def of(cls, data: bytes, name: str, device: str | None = None) -> Origin:
        """The origin of a file's bytes."""
        return cls(name, hashlib.sha256(data).hexdigest(), device)

    def device_id(self, label: str | None = None) -> str:
        """The device asked for, else a name and the beginning of the file's hash: the same file
        gives the same, and another file of that name another.
        """
        if self.device:
            return self.device
        stem = re.sub(r"\.(gpx|csv|txt|xml)$", "", self.name, flags=re.IGNORECASE)
        readable = " ".join(re.sub(r"[^\w.+-]+", " ", label or stem).split())[:60]
        return f"{readable or 'import'} {self.sha256[:8]}"


def kind_of(data: bytes) -> Kind:
    """What a file is, by its first bytes: ZIP, JSON, XML; anything else is taken for CSV."""
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return "archive"
    start = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith(b"{"):
        return "document"
    return "gpx" if start.startswith(b"<") else "csv"


def refuse_size(data: bytes) -> None:
    """Refuse more bytes than we take.

    Raises:
        TooLargeError: more than ``MAX_RECORDING_BYTES``.
    """
    if len(data) > MAX_RECORDING_BYTES:
        problem = f"has {len(data):,} bytes; {MAX_RECORDING_BYTES:,} are the most we take"
        raise TooLargeError("$", problem)


def written_from(session_id: str) -> str:
    """What our files say of the session that they were written from (RFC 9562, 4)."""
    return f"urn:uuid:{session_id}"
