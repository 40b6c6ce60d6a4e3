"""Which devices recorded with a key."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up: of keys made before, it shows with the next records."""
    with op.batch_alter_table("phone_key") as table:
        table.add_column(sa.Column("devices", sa.JSON(), nullable=False, server_default="[]"))


def downgrade() -> None:
    """Go down."""
    with op.batch_alter_table("phone_key") as table:
        table.drop_column("devices")
