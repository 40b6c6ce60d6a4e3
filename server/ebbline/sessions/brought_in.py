"""What a session holds of files that others recorded: which file brought what, and when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from ebbline.store.models import BreadcrumbsRow, EventRow, LogRow


@dataclass(frozen=True, slots=True)
class BroughtIn:
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


@dataclass(frozen=True, slots=True)
class _Piece:
    name: str | None
    sha256: str
    device: str
    received_ms: int
    kind: str
    count: int
    first_ms: int
    last_ms: int


def brought_in(db_session: Session, session_id: UUID) -> list[BroughtIn]:
    """Every file whose GPX or CSV is in the session, device by device, the first taken first."""
    pieces: dict[tuple[str, str], list[_Piece]] = {}
    for piece in _pieces(db_session, session_id):
        pieces.setdefault((piece.sha256, piece.device), []).append(piece)
    found = []
    for (sha256, device), of_it in pieces.items():
        count = {"fixes": 0, "events": 0, "log_rows": 0}
        for piece in of_it:
            count[piece.kind] += piece.count
        taken_ms = min(piece.received_ms for piece in of_it)
        found.append(
            BroughtIn(
                name=next((piece.name for piece in of_it if piece.name), "a file without a name"),
                sha256=sha256,
                device=device,
                taken_at=datetime.fromtimestamp(taken_ms / 1000, UTC).isoformat(),
                from_ms=min(piece.first_ms for piece in of_it),
                to_ms=max(piece.last_ms for piece in of_it),
                **count,
            )
        )
    return sorted(found, key=lambda one: one.taken_at)


def _pieces(db_session: Session, session_id: UUID) -> Iterator[_Piece]:
    """Each batch of fixes, log and event that says which file it came from."""
    for kind, table in (("fixes", BreadcrumbsRow), ("events", EventRow)):
        sha256 = table.document[("source", "sha256")].as_string()
        name = table.document[("source", "name")].as_string()
        rows = db_session.execute(
            select(name, sha256, table.device, table.received_ms, table.document["t_ms"])
            .where(table.session_id == session_id, sha256.is_not(None))
            .order_by(table.position)
        )
        for name, sha256, device, received_ms, said_ms in rows:
            t_ms = said_ms if isinstance(said_ms, list) else [said_ms]
            yield _Piece(name, sha256, device, received_ms, kind, len(t_ms), t_ms[0], t_ms[-1])
    logs = db_session.execute(
        select(
            LogRow.document["label"].as_string(),
            LogRow.source_sha256,
            LogRow.device,
            LogRow.received_ms,
            LogRow.document["t_ms"],
        )
        .where(LogRow.session_id == session_id)
        .order_by(LogRow.position)
    )
    for name, sha256, device, received_ms, t_ms in logs:
        yield _Piece(name, sha256, device, received_ms, "log_rows", len(t_ms), t_ms[0], t_ms[-1])
