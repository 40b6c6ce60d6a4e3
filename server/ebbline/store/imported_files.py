"""Which batch, event or log came from which imported file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from ebbline.store.models import BreadcrumbsRow, EventRow, LogRow

Kind = Literal["fixes", "events", "log_rows"]


@dataclass(frozen=True, slots=True)
class Piece:
    """What one row of a table holds of a file; ``name`` is None where the row doesn't say it."""

    kind: Kind
    name: str | None
    sha256: str
    device: str
    received_ms: int
    count: int
    first_ms: int
    last_ms: int


def pieces(db_session: Session, session_id: UUID) -> Iterator[Piece]:
    """Each batch of fixes, event and log that says which file it came from."""
    for kind, table in _TABLES:
        sha256 = table.document[("source", "sha256")].as_string()
        rows = db_session.execute(
            select(
                table.document[("source", "name")].as_string(),
                sha256,
                table.device,
                table.received_ms,
                table.document["t_ms"],
            )
            .where(table.session_id == session_id, sha256.is_not(None))
            .order_by(table.position)
        )
        for name, digest, device, received_ms, said_ms in rows:
            t_ms = said_ms if isinstance(said_ms, list) else [said_ms]
            yield Piece(kind, name, digest, device, received_ms, len(t_ms), t_ms[0], t_ms[-1])
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
    for name, digest, device, received_ms, t_ms in logs:
        yield Piece("log_rows", name, digest, device, received_ms, len(t_ms), t_ms[0], t_ms[-1])


_TABLES: tuple[tuple[Kind, type[BreadcrumbsRow] | type[EventRow]], ...] = (
    ("fixes", BreadcrumbsRow),
    ("events", EventRow),
)
