"""The list's lines kept in the database, what was published, and campaigns."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

BEHIND = sa.text("additions <> listed_additions")
SORTED_BY = (
    "started_ms",
    "name_key",
    "vehicle_key",
    "course_key",
    "event_count",
    "reading_count",
    "fix_count",
    "outcome",
    "reserve_distance_m",
    "reserve_energy_kwh",
    "reserve_duration_s",
    "share_of_usable_pct",
    "consumption_wh_per_km",
    "full_power_kw",
    "published_ms",
    "updated_ms",
)


def upgrade() -> None:
    """Go up. The lines of sessions that are there are made when a list is next asked for."""
    with op.batch_alter_table("session") as table:
        table.add_column(
            sa.Column("listed_additions", sa.BigInteger(), nullable=False, server_default="-1")
        )
    with op.batch_alter_table("session") as table:
        table.alter_column("listed_additions", server_default=None)
    op.create_index("ix_session_behind", "session", ["id"], sqlite_where=BEHIND,
                    postgresql_where=BEHIND)  # fmt: skip
    op.create_table(
        "overview",
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("additions", sa.BigInteger(), nullable=False),
        sa.Column("updated_ms", sa.BigInteger(), nullable=False),
        sa.Column("archived", sa.Boolean(), nullable=False),
        sa.Column("title", sa.Text(), nullable=True),
        sa.Column("started_at", sa.Text(), nullable=True),
        sa.Column("started_ms", sa.BigInteger(), nullable=True),
        sa.Column("started_day", sa.Text(), nullable=True),
        sa.Column("vehicle_label", sa.Text(), nullable=True),
        sa.Column("course_label", sa.Text(), nullable=True),
        sa.Column("name_key", sa.Text(), nullable=True),
        sa.Column("vehicle_key", sa.Text(), nullable=True),
        sa.Column("course_key", sa.Text(), nullable=True),
        sa.Column("event_count", sa.BigInteger(), nullable=False),
        sa.Column("reading_count", sa.BigInteger(), nullable=False),
        sa.Column("fix_count", sa.BigInteger(), nullable=False),
        sa.Column("engine", sa.Text(), nullable=True),
        sa.Column("found_additions", sa.BigInteger(), nullable=True),
        sa.Column("failure", sa.Text(), nullable=True),
        sa.Column("outcome", sa.Text(), nullable=True),
        sa.Column("reserve_distance_m", sa.Double(), nullable=True),
        sa.Column("reserve_energy_kwh", sa.Double(), nullable=True),
        sa.Column("reserve_duration_s", sa.Double(), nullable=True),
        sa.Column("share_of_usable_pct", sa.Double(), nullable=True),
        sa.Column("consumption_wh_per_km", sa.Double(), nullable=True),
        sa.Column("full_power_kw", sa.Double(), nullable=True),
        sa.Column("claimed_until_ms", sa.BigInteger(), nullable=True),
        sa.Column("published_ms", sa.BigInteger(), nullable=True),
        sa.Column("published_differs", sa.Boolean(), nullable=True),
        sa.Column("figures", sa.JSON(), nullable=True),
        sa.Column("words", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name="fk_overview_session_id_session"
        ),
        sa.PrimaryKeyConstraint("session_id", name="pk_overview"),
    )
    op.create_index("ix_overview_state", "overview",
                    ["archived", "engine", "found_additions", "additions"])  # fmt: skip
    for column in SORTED_BY:
        op.create_index(f"ix_overview_{column}", "overview", ["archived", column])
    op.create_table(
        "publication",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("published_ms", sa.BigInteger(), nullable=False),
        sa.Column("by", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("engine", sa.Text(), nullable=False),
        sa.Column("input_sha256", sa.Text(), nullable=False),
        sa.Column("setup_revision", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name="fk_publication_session_id_session"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_publication"),
    )
    op.create_index("ix_publication_session_id", "publication", ["session_id"])
    op.create_table(
        "campaign",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=True),
        sa.Column("definition", sa.JSON(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_ms", sa.BigInteger(), nullable=False),
        sa.Column("updated_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_campaign"),
    )


def downgrade() -> None:
    """Go down."""
    op.drop_table("campaign")
    op.drop_table("publication")
    op.drop_table("overview")
    op.drop_index("ix_session_behind", "session")
    with op.batch_alter_table("session") as table:
        table.drop_column("listed_additions")
