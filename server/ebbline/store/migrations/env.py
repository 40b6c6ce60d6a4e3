"""How Alembic reaches our tables: always through a connection that the caller opened."""

from alembic import context

from ebbline.store.models import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite can't alter most things in place
    transactional_ddl=True,
    compare_type=True,
)
with context.begin_transaction():
    context.run_migrations()
