"""Pictures and spoken notes of a session: each kept once, under the hash of its bytes.

A spoken note is kept, sent and filed as a photo is; its media type says that it is to be heard.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import NotFoundError
from ebbline.exchange import pictures, session_file, sounds
from ebbline.sessions.records.atomic import add_atomically
from ebbline.store import photos, sessions
from ebbline.store.photos import PhotoFolder

MEDIA_TYPES = (*pictures.MEDIA_TYPES, *sounds.MEDIA_TYPES)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture's bytes, or a sound's. ``media_type`` is None unless we check and show its kind."""

    content: bytes
    media_type: str | None


def add_photo(
    db_session: Session,
    folder: PhotoFolder,
    session_id: UUID,
    data: bytes,
    particulars: dict[str, Any],
    now_ms: int,
) -> dict[str, Any]:
    """Keep a picture or a sound and what is known of it (``t_ms``, ``device``, ``media_type``,
    ``event``); the same again changes nothing.

    When this returns, both are held durably. Returns the record as it is held.

    Raises:
        NotFoundError: no such session.
        InputError: nothing whole of that type, or too large, or its particulars are malformed.
        ConflictError: this picture is held with other particulars, which are in ``held``.
    """
    record = {"sha256": session_file.sha256_of(data), **particulars}
    session_file.check_photo(record, "photo")
    sessions.find(db_session, session_id)
    if record["media_type"] in sounds.MEDIA_TYPES:
        sounds.check_sound(data, record["media_type"])
    else:
        pictures.check_picture(data, record["media_type"])
    # Before the record, so that no session names a picture that a crash has lost.
    folder.put(record["sha256"], data)
    row = sessions.lock(db_session, session_id)

    def add() -> int:
        return photos.add_new(db_session, session_id, [record], now_ms)

    add_atomically(db_session, row, add, now_ms)
    return record


def photo_of(db_session: Session, folder: PhotoFolder, session_id: UUID, sha256: str) -> Picture:
    """One picture of a session.

    Raises:
        NotFoundError: no such session, or it names no such picture, or its bytes aren't here.
    """
    sessions.find(db_session, session_id)
    records = photos.documents(db_session, session_id)
    record = next((record for record in records if record["sha256"] == sha256), None)
    content = None if record is None else folder.get(sha256)
    if record is None or content is None:
        raise NotFoundError(f"session {session_id} has no picture {sha256} here")
    media_type = record.get("media_type")
    return Picture(content, media_type if media_type in MEDIA_TYPES else None)
