"""Logs of power that recorders in the car wrote."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up."""
    op.create_table(
        "log",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("source_sha256", sa.Text(), nullable=False),
        sa.Column("count", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name="fk_log_session_id_session"),
        sa.PrimaryKeyConstraint("session_id", "position", name="pk_log"),
    )


def downgrade() -> None:
    """Go down."""
    op.drop_table("log")
