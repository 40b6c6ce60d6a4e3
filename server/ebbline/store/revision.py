"""Which migration a database is at, asked without loading what migrates."""

from __future__ import annotations

from functools import cache
from importlib import resources

from sqlalchemy import Engine, inspect, text


@cache
def newest() -> str:
    """The revision that our migrations lead to, by the names of their files."""
    folder = resources.files("ebbline.store") / "migrations" / "versions"
    names = [file.name for file in folder.iterdir()]
    return max(name[1:5] for name in names if name.startswith("v") and name.endswith(".py"))


def of(engine: Engine) -> str | None:
    """The revision that a database is at, None when it has none of our tables yet."""
    if not inspect(engine).has_table("alembic_version"):
        return None
    with engine.connect() as connection:
        found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found
