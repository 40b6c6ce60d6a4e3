"""Which imported file brought what into a session, and when."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import imported_files as stored
from ebbline.store.imported_files import Piece


@dataclass(frozen=True, slots=True)
class ImportedFile:
    """What one file brought for one device; ``from_ms`` and ``to_ms`` by that device's clock."""

    name: str
    sha256: str
    device: str
    taken_at: str
    fixes: int
    events: int
    log_rows: int
    from_ms: int
    to_ms: int


def imported_files(db_session: Session, session_id: UUID) -> list[ImportedFile]:
    """Every file whose GPX or CSV is in the session, device by device, the first taken first."""
    pieces: dict[tuple[str, str], list[Piece]] = {}
    for piece in stored.pieces(db_session, session_id):
        pieces.setdefault((piece.sha256, piece.device), []).append(piece)
    files = []
    for (sha256, device), of_it in pieces.items():
        count = {"fixes": 0, "events": 0, "log_rows": 0}
        for piece in of_it:
            count[piece.kind] += piece.count
        files.append(
            ImportedFile(
                name=next((piece.name for piece in of_it if piece.name), "a file without a name"),
                sha256=sha256,
                device=device,
                taken_at=rfc3339(min(piece.received_ms for piece in of_it)),
                from_ms=min(piece.first_ms for piece in of_it),
                to_ms=max(piece.last_ms for piece in of_it),
                **count,
            )
        )
    return sorted(files, key=lambda file: file.taken_at)
