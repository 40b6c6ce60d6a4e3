"""Sessions that are put away; nothing of them is deleted."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up."""
    with op.batch_alter_table("session") as table:
        table.add_column(sa.Column("archived_ms", sa.BigInteger(), nullable=True))


def downgrade() -> None:
    """Go down."""
    with op.batch_alter_table("session") as table:
        table.drop_column("archived_ms")
