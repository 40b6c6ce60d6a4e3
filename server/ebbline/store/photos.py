"""Photos: what is known of each in the database, its bytes in a folder under their hash."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from uuid import UUID

import fsspec
from fsspec.implementations.local import LocalFileSystem
from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError
from ebbline.store import private
from ebbline.store.content import same
from ebbline.store.models import Document, PhotoRow


class PhotoFolder:
    """A folder of photos on this machine or anywhere fsspec reaches (``s3://bucket/photos``)."""

    def __init__(self, url: str) -> None:
        """``url``: the folder; it is made when the first photo comes."""
        self._files, self._root = fsspec.core.url_to_fs(url)

    def put(self, sha256: str, content: bytes) -> bool:
        """Keep the bytes; whether they are new. The same photo again changes nothing.

        Raises:
            InputError: the bytes don't have that hash.
            FullError: the disk is full.
        """
        if hashlib.sha256(content).hexdigest() != sha256:
            raise InputError(f"photos/{sha256}", "the content does not have this SHA-256")
        path = self._path(sha256)
        if self._files.exists(path):
            return False
        if isinstance(self._files, LocalFileSystem):
            private.make_folder(Path(self._root))
            private.write_whole(Path(path), content)
            return True
        self._files.makedirs(self._root, exist_ok=True)
        unfinished = f"{path}.{secrets.token_hex(4)}.part"
        with self._files.open(unfinished, "wb") as file:
            file.write(content)
        self._files.mv(unfinished, path)
        return True

    def shut(self) -> bool:
        """Shut a folder of this machine that others may enter, and what is in it; whether it had
        to be shut.
        """
        folder = Path(self._root)
        if not isinstance(self._files, LocalFileSystem) or not folder.is_dir():
            return False
        return private.shut_folder(folder) and (private.shut_files(folder.iterdir()) or True)

    def get(self, sha256: str) -> bytes | None:
        """The bytes, None when we don't hold them."""
        path = self._path(sha256)
        if not self._files.exists(path):
            return None
        content: bytes = self._files.cat_file(path)
        return content

    def _path(self, sha256: str) -> str:
        return f"{self._root}/{sha256}"


def add_new(db_session: Session, session_id: UUID, records: Sequence[Document], now_ms: int) -> int:
    """Store what is known of photos not there yet; how many were new. The session must be
    locked.

    Raises:
        ConflictError: a photo of that hash is there with other particulars.
    """
    stored = {record["sha256"]: record for record in documents(db_session, session_id)}
    last = db_session.scalar(
        select(func.max(PhotoRow.position)).where(PhotoRow.session_id == session_id)
    )
    rows: list[dict[str, Any]] = []
    for index, record in enumerate(records):
        there = stored.setdefault(record["sha256"], record)
        if there is record:
            rows.append(
                {
                    "session_id": session_id,
                    "sha256": record["sha256"],
                    "position": (-1 if last is None else last) + 1 + len(rows),
                    "document": record,
                    "received_ms": now_ms,
                }
            )
        elif not same(there, record):
            raise ConflictError(
                f"photos[{index}]: photo {record['sha256']} is held with other particulars, "
                "which stay as they were",
                held=there,
            )
    if rows:
        db_session.execute(insert(PhotoRow), rows)
    return len(rows)


def documents(db_session: Session, session_id: UUID) -> list[Document]:
    """What is known of each photo, in order of arrival."""
    return list(
        db_session.scalars(
            select(PhotoRow.document)
            .where(PhotoRow.session_id == session_id)
            .order_by(PhotoRow.position)
        )
    )
