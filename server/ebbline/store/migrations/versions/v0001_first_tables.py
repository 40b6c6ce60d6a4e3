"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Go up."""
    op.create_table(
        "session",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_ms", sa.BigInteger(), nullable=False),
        sa.Column("updated_ms", sa.BigInteger(), nullable=False),
        sa.Column("additions", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session")),
    )
    op.create_table(
        "breadcrumbs",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("first_seq", sa.BigInteger(), nullable=False),
        sa.Column("last_seq", sa.BigInteger(), nullable=False),
        sa.Column("count", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_breadcrumbs_session_id_session")
        ),
        sa.PrimaryKeyConstraint("session_id", "position", name=op.f("pk_breadcrumbs")),
    )
    op.create_table(
        "clock_check",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("t_ms", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_clock_check_session_id_session")
        ),
        sa.PrimaryKeyConstraint("session_id", "id", name=op.f("pk_clock_check")),
    )
    op.create_table(
        "event",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("t_ms", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_event_session_id_session")
        ),
        sa.PrimaryKeyConstraint("session_id", "id", name=op.f("pk_event")),
    )
    op.create_table(
        "photo",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_photo_session_id_session")
        ),
        sa.PrimaryKeyConstraint("session_id", "sha256", name=op.f("pk_photo")),
    )
    op.create_table(
        "reading",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("t_ms", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_reading_session_id_session")
        ),
        sa.PrimaryKeyConstraint("session_id", "id", name=op.f("pk_reading")),
    )
    op.create_table(
        "result",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("input_sha256", sa.Text(), nullable=False),
        sa.Column("engine", sa.Text(), nullable=False),
        sa.Column("additions", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_result_session_id_session")
        ),
        sa.PrimaryKeyConstraint("session_id", "input_sha256", "engine", name=op.f("pk_result")),
    )
    op.create_table(
        "setup_revision",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("revision", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_setup_revision_session_id_session")
        ),
        sa.PrimaryKeyConstraint("session_id", "revision", name=op.f("pk_setup_revision")),
    )


def downgrade() -> None:
    """Go down."""
    op.drop_table("setup_revision")
    op.drop_table("result")
    op.drop_table("reading")
    op.drop_table("photo")
    op.drop_table("event")
    op.drop_table("clock_check")
    op.drop_table("breadcrumbs")
    op.drop_table("session")
