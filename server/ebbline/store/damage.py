"""A database file that is damaged: found before it is served, and told from one that is busy."""

from __future__ import annotations

import sqlite3
import time

from sqlalchemy import Engine
from sqlalchemy.exc import DatabaseError

from ebbline.errors import EbblineError

LOOKED_THROUGH_S = 0.25  # about 150 MB of a file; a start must not wait for more
_STEPS = 1_000  # of SQLite's machine between two looks at the clock

DISK_FULL = "53100"  # PostgreSQL's code


def is_damaged(error: DatabaseError) -> bool:
    """Whether SQLite says that its file is none, or not whole."""
    code = getattr(error.orig, "sqlite_errorcode", 0) & 0xFF
    return code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def is_full(error: DatabaseError) -> bool:
    """Whether there was no room left to write."""
    code = getattr(error.orig, "sqlite_errorcode", 0) & 0xFF
    return code == sqlite3.SQLITE_FULL or getattr(error.orig, "sqlstate", None) == DISK_FULL


def refuse_damaged(engine: Engine) -> None:
    """Look an SQLite file through, as far as a quarter of a second goes.

    Raises:
        EbblineError: it is damaged.
    """
    if engine.dialect.name != "sqlite":
        return
    connection = engine.raw_connection()
    try:
        until = time.monotonic() + LOOKED_THROUGH_S
        driver = connection.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        driver.set_progress_handler(lambda: time.monotonic() > until, _STEPS)
        try:
            (found,) = driver.execute("PRAGMA quick_check(1)").fetchone()
        except sqlite3.DatabaseError as error:
            found = "ok" if error.sqlite_errorcode == sqlite3.SQLITE_INTERRUPT else str(error)
        finally:
            driver.set_progress_handler(None, 0)
    finally:
        connection.close()
    if found != "ok":
        raise EbblineError(damaged(engine, found))


def damaged(engine: Engine, found: object) -> str:
    """What to say of a damaged file."""
    return (
        f"the database file {engine.url.database} is damaged and is not served: {found}. Keep it "
        "as it is, put a copy of before in its place, and start again; phones then send again "
        "what that copy lacks"
    )
