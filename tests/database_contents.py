"""Everything in a database: to see that something changed nothing, or to begin anew."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Engine, select

from ebbline.store.models import Base


def contents(engine: Engine) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, in order of its primary key."""
    with engine.connect() as connection:
        return {
            table.name: [
                tuple(row)
                for row in connection.execute(select(table).order_by(*table.primary_key.columns))
            ]
            for table in Base.metadata.sorted_tables
        }


def empty(engine: Engine) -> None:
    """Delete every row of every table."""
    with engine.execution_options(ebbline_writes=True).begin() as connection:
        for table in reversed(Base.metadata.sorted_tables):
            connection.execute(table.delete())
