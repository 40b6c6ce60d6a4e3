"""Tables, migrations and queries on plain SQLAlchemy; no Flask."""

from ebbline.store.engine import (
    BUSY_WHILE_SERVING_S,
    begin_write,
    database_url,
    engine_options,
    open_engine,
    prepare,
)

__all__ = [
    "BUSY_WHILE_SERVING_S",
    "begin_write",
    "database_url",
    "engine_options",
    "open_engine",
    "prepare",
]
