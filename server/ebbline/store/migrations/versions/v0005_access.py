"""Who may come in: accounts of the desk, keys of phones, and what signs the desk's cookies."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up."""
    op.create_table(
        "account",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("created_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_account"),
    )
    op.create_table(
        "phone_key",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("secret_sha256", sa.Text(), nullable=False),
        sa.Column("created_ms", sa.BigInteger(), nullable=False),
        sa.Column("last_used_ms", sa.BigInteger(), nullable=True),
        sa.Column("revoked_ms", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name="fk_phone_key_session_id_session"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_phone_key"),
        sa.UniqueConstraint("secret_sha256", name="uq_phone_key_secret_sha256"),
    )
    op.create_table(
        "signing_secret",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("secret", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_signing_secret"),
    )


def downgrade() -> None:
    """Go down."""
    op.drop_table("signing_secret")
    op.drop_table("phone_key")
    op.drop_table("account")
