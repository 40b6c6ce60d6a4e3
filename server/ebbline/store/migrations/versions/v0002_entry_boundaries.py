"""Where an entry of fixes began is kept, so that an export has the entries that came in."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up. Batches stored before didn't say; they were single ones of a phone, mostly."""
    with op.batch_alter_table("breadcrumbs") as table:
        table.add_column(
            sa.Column("opens_entry", sa.Boolean(), nullable=False, server_default=sa.false())
        )
    with op.batch_alter_table("breadcrumbs") as table:
        table.alter_column("opens_entry", server_default=None)


def downgrade() -> None:
    """Go down."""
    with op.batch_alter_table("breadcrumbs") as table:
        table.drop_column("opens_entry")
