"""Bringing a database to the current revision, from code."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, text

from ebbline.errors import EbblineError

ADVISORY_LOCK = 0x6562626C  # any constant of our own: app processes starting together take turns


def configuration(connection: Connection) -> Config:
    """Alembic's configuration for an open connection; the scripts are package data."""
    config = Config()
    config.set_main_option("script_location", "ebbline.store:migrations")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def upgrade(engine: Engine) -> None:
    """Run the migrations that this database lacks, all or none.

    Raises:
        EbblineError: a newer version of ours has made it.
    """
    with engine.connect().execution_options(ebbline_writes=True) as connection:
        with connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(
                    text("SELECT pg_advisory_xact_lock(:key)"), {"key": ADVISORY_LOCK}
                )
            try:
                command.upgrade(configuration(connection), "head")
            except CommandError as error:  # it is at a revision that we don't have
                raise EbblineError(
                    f"the database was made by a newer version of Ebbline: {error}"
                ) from error
