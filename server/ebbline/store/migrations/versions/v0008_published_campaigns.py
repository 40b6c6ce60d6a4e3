"""What was published of campaigns, beside what was of sessions."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up."""
    with op.batch_alter_table("publication") as table:
        table.alter_column("setup_revision", new_column_name="revision")
        table.alter_column("session_id", existing_type=sa.Uuid(), nullable=True)
        table.add_column(sa.Column("campaign_id", sa.Uuid(), nullable=True))
        table.create_foreign_key(
            "fk_publication_campaign_id_campaign", "campaign", ["campaign_id"], ["id"]
        )
        table.create_check_constraint(
            "ck_publication_of", "(session_id IS NULL) <> (campaign_id IS NULL)"
        )
    op.create_index("ix_publication_campaign_id", "publication", ["campaign_id"])


def downgrade() -> None:
    """Go down: a version that knows no published campaigns must not lose them unseen."""
    held = op.get_bind().execute(
        sa.text("SELECT count(*) FROM publication WHERE campaign_id IS NOT NULL")
    )
    if held.scalar_one():
        raise RuntimeError("campaigns were published; an older version can't keep what they said")
    op.drop_index("ix_publication_campaign_id", "publication")
    with op.batch_alter_table("publication") as table:
        table.drop_constraint("ck_publication_of", type_="check")
        table.drop_constraint("fk_publication_campaign_id_campaign", type_="foreignkey")
        table.drop_column("campaign_id")
        table.alter_column("session_id", existing_type=sa.Uuid(), nullable=False)
        table.alter_column("revision", new_column_name="setup_revision")
