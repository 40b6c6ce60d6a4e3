"""Opening a database: SQLite needs no set-up, PostgreSQL takes one URL."""

from __future__ import annotations

import sqlite3
import time
from typing import Any

import orjson
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DatabaseError
from sqlalchemy.orm import Session

from ebbline.errors import EbblineError, InputError
from ebbline.store import private, revision
from ebbline.store.damage import damaged, is_damaged

BUSY_TIMEOUT_S = 30
BUSY_WHILE_SERVING_S = 5  # a thread that waits for somebody's lock answers nobody else
MAPPED_BYTES = 1 << 30  # of a database file at the most; what is written goes the usual way


def database_url(text: str) -> str:
    """Check a database's URL and name the driver we use for it.

    Raises:
        InputError: not a URL, or neither SQLite nor PostgreSQL.
    """
    try:
        url = make_url(text)
    except ArgumentError as error:
        raise InputError("database", f"{text!r} is not a database URL") from error
    if url.drivername in ("postgres", "postgresql"):
        url = url.set(drivername="postgresql+psycopg")
    if url.drivername not in ("sqlite", "postgresql+psycopg"):
        raise InputError(
            "database", f"{url.drivername!r} is not supported; use sqlite:/// or postgresql://"
        )
    return url.render_as_string(hide_password=False)


def engine_options(url: str, busy_s: float | None = None) -> dict[str, Any]:
    """What every engine of ours is created with. Somebody else's lock is waited for ``busy_s``
    (else half a minute with SQLite, and for good with PostgreSQL). Records go in and out of JSON
    by orjson, which keeps floats exact and refuses NaN.
    """
    options: dict[str, Any] = {
        "json_serializer": lambda value: orjson.dumps(value).decode(),
        "json_deserializer": orjson.loads,
        "pool_pre_ping": True,
    }
    if url.startswith("sqlite"):
        options["connect_args"] = {"timeout": busy_s or BUSY_TIMEOUT_S}
    elif busy_s is not None:
        wait = f"-c lock_timeout={round(busy_s * 1000)}"
        options["connect_args"] = {"options": wait, "connect_timeout": max(2, round(busy_s))}
    return options


def prepare(engine: Engine) -> None:
    """Teach an engine our rules and bring its database to the current migration.

    Raises:
        EbblineError: the database can't be reached, or a newer version of ours has made it.
    """
    if engine.dialect.name == "sqlite":
        private.prepare_database_file(engine.url)
        event.listen(engine, "connect", _sqlite_connect)
        event.listen(engine, "begin", _sqlite_begin)
    try:
        if revision.of(engine) != revision.newest():
            # Alembic takes as long to load as all that a database at the newest revision needs.
            from ebbline.store.migrate import upgrade

            upgrade(engine)
    except DatabaseError as error:
        if is_damaged(error):
            raise EbblineError(damaged(engine, error.orig)) from error
        shown = engine.url.render_as_string(hide_password=True)
        raise EbblineError(f"the database {shown} can't be opened: {error.orig}") from error


def open_engine(url: str) -> Engine:
    """Open the database at ``url``, creating or migrating it as needed.

    Raises:
        InputError: not a URL of a database we know.
        EbblineError: the database can't be reached, or a newer version of ours has made it.
    """
    url = database_url(url)
    engine = create_engine(url, **engine_options(url))
    prepare(engine)
    return engine


def begin_write(db_session: Session) -> None:
    """Start a transaction that is going to write, ending one that was reading.

    SQLite would otherwise start it as a reader and fail, not wait, when another writer came
    first.
    """
    db_session.rollback()
    db_session.connection(execution_options={"ebbline_writes": True})


def _sqlite_connect(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None  # the driver's own BEGIN comes too late; see _sqlite_begin
    _to_wal(connection)
    for pragma in (
        "synchronous = FULL",  # an acknowledged record survives a power cut
        "foreign_keys = ON",
        f"mmap_size = {MAPPED_BYTES}",  # lists read much: without copies, and kept past a write
    ):
        connection.execute(f"PRAGMA {pragma}")


def _to_wal(connection: sqlite3.Connection) -> None:
    """Whoever switches a new database over needs it alone; SQLite, which waits for every other
    lock, refuses the others meanwhile.
    """
    until = time.monotonic() + BUSY_TIMEOUT_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
            time.sleep(0.02)


def _sqlite_begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("ebbline_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
