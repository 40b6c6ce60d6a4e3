"""Alembic's scripts: package data, run from code by ``store.migrate``."""
