"""Campaigns' comparisons kept as results are, and whether they are still what was published."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up."""
    op.create_table(
        "comparison",
        sa.Column("campaign_id", sa.Uuid(), nullable=False),
        sa.Column("input_sha256", sa.Text(), nullable=False),
        sa.Column("engine", sa.Text(), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.Column("published_differs", sa.Boolean(), nullable=True),
        sa.ForeignKeyConstraint(
            ["campaign_id"], ["campaign.id"], name="fk_comparison_campaign_id_campaign"
        ),
        sa.PrimaryKeyConstraint("campaign_id", name="pk_comparison"),
    )


def downgrade() -> None:
    """Go down: they can be worked out again."""
    op.drop_table("comparison")
