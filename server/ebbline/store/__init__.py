"""Tables, migrations and queries on plain SQLAlchemy; no Flask."""

from ebbline.store.engine import begin_write, database_url, engine_options, open_engine, prepare

__all__ = ["begin_write", "database_url", "engine_options", "open_engine", "prepare"]
