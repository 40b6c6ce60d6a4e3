"""Tables, migrations and queries on plain SQLAlchemy; no Flask."""
