"""Bringing a database to the current revision, from code."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine, text

ADVISORY_LOCK = 0x6562626C  # any constant of our own: app processes starting together take turns


def configuration(connection: Connection) -> Config:
    """Alembic's configuration for an open connection; the scripts are package data."""
    config = Config()
    config.set_main_option("script_location", "ebbline.store:migrations")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def upgrade(engine: Engine) -> None:
    """Run the migrations that this database lacks, all or none."""
    with engine.connect().execution_options(ebbline_writes=True) as connection:
        with connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(
                    text("SELECT pg_advisory_xact_lock(:key)"), {"key": ADVISORY_LOCK}
                )
            command.upgrade(configuration(connection), "head")
