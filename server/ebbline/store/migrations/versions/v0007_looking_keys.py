"""Keys that can only look."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up."""
    with op.batch_alter_table("phone_key") as table:
        table.add_column(
            sa.Column("looks", sa.Boolean(), nullable=False, server_default=sa.false())
        )


def downgrade() -> None:
    """Go down: a key that could only look must not become one that adds."""
    op.execute("DELETE FROM phone_key WHERE looks")
    with op.batch_alter_table("phone_key") as table:
        table.drop_column("looks")
