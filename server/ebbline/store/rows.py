"""One row by its id, found for reading or locked for writing; and how many ids a query takes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeVar
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from ebbline.errors import NotFoundError
from ebbline.store.models import CampaignRow, PublicationRow, SessionRow

IDS_PER_QUERY = 10_000  # SQLite takes 32,766 parameters, PostgreSQL 65,535
Id = TypeVar("Id", UUID, str)
Row = TypeVar("Row", SessionRow, CampaignRow, PublicationRow)
NAMES = {SessionRow: "session", CampaignRow: "campaign", PublicationRow: "publication"}


def find(db_session: Session, table: type[Row], row_id: UUID) -> Row:
    """A row, for reading.

    Raises:
        NotFoundError: no such row.
    """
    return _there(db_session.get(table, row_id), table, row_id)


def lock(db_session: Session, table: type[Row], row_id: UUID) -> Row:
    """A row, for writing: other writers to it wait until we commit. Writing has begun before.

    Raises:
        NotFoundError: no such row.
    """
    row = db_session.scalar(select(table).where(table.id == row_id).with_for_update())
    return _there(row, table, row_id)


def in_parts(ids: Iterable[Id]) -> Iterator[list[Id]]:
    """Ids, each once, as many at a time as a query takes."""
    once = list(dict.fromkeys(ids))
    for start in range(0, len(once), IDS_PER_QUERY):
        yield once[start : start + IDS_PER_QUERY]


def _there(row: Row | None, table: type[Row], row_id: UUID) -> Row:
    if row is None:
        raise NotFoundError(f"there is no {NAMES[table]} {row_id}")
    return row
