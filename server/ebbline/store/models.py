"""Tables. What was observed is only ever added: nothing here is updated or deleted except the
moment a session was last added to, whether it is archived, what is derived (results, comparisons,
and the list's lines), campaigns, and who may come in.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import (
    JSON,
    BigInteger,
    CheckConstraint,
    Double,
    ForeignKey,
    Index,
    LargeBinary,
    MetaData,
    Text,
    false,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

Document = dict[str, Any]


class Base(DeclarativeBase):
    """One naming rule for constraints, so that migrations can name them on every database."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012
        Document: JSON,
        str: Text,
        int: BigInteger,
        float: Double,
        bytes: LargeBinary,
    }


class SessionRow(Base):
    """One field session. Writers lock this row, so they take turns."""

    __tablename__ = "session"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    created_ms: Mapped[int]
    updated_ms: Mapped[int]
    additions: Mapped[int]  # how often something was added; a cached result knows which it saw
    archived_ms: Mapped[int | None]  # since when it is put away
    listed_additions: Mapped[int] = mapped_column(default=-1)  # those that its line tells of

    __table_args__ = (
        Index(  # which lines are behind, without looking at the others
            "ix_session_behind",
            "id",
            sqlite_where=text("additions <> listed_additions"),
            postgresql_where=text("additions <> listed_additions"),
        ),
    )


class SetupRow(Base):
    """One revision of the set-up, as given; the highest revision is the current one."""

    __tablename__ = "setup_revision"

    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"), primary_key=True)
    revision: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    document: Mapped[Document]
    received_ms: Mapped[int]


class Observation:
    """What every stored record has. ``document`` is the record as it came; the rest is index."""

    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"), primary_key=True)
    id: Mapped[str] = mapped_column(primary_key=True)
    position: Mapped[int]  # order of arrival within the session
    device: Mapped[str]
    t_ms: Mapped[int]
    document: Mapped[Document]
    received_ms: Mapped[int]


class EventRow(Observation, Base):
    """One tap."""

    __tablename__ = "event"


class ReadingRow(Observation, Base):
    """What a display showed."""

    __tablename__ = "reading"


class ClockCheckRow(Observation, Base):
    """One comparison of a device's clock with the server's."""

    __tablename__ = "clock_check"


class PhotoRow(Base):
    """What is known of one photo; its bytes lie in the photo folder under their hash."""

    __tablename__ = "photo"

    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"), primary_key=True)
    sha256: Mapped[str] = mapped_column(primary_key=True)
    position: Mapped[int]
    document: Mapped[Document]
    received_ms: Mapped[int]


class BreadcrumbsRow(Base):
    """Fixes of one device as they came: columns of ``count`` rows in strict order of ``seq``.

    No two batches of a device hold the same ``seq``.
    """

    __tablename__ = "breadcrumbs"

    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    device: Mapped[str]
    first_seq: Mapped[int]
    last_seq: Mapped[int]
    count: Mapped[int]
    opens_entry: Mapped[bool]  # it came as an entry of its own behind another of its device
    document: Mapped[Document]
    received_ms: Mapped[int]


class LogRow(Base):
    """One log of power as it came: columns of ``count`` rows."""

    __tablename__ = "log"

    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    device: Mapped[str]
    source_sha256: Mapped[str]
    count: Mapped[int]
    document: Mapped[Document]
    received_ms: Mapped[int]


class ResultRow(Base):
    """A result document, kept under what it was derived from. May be thrown away any time."""

    __tablename__ = "result"

    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"), primary_key=True)
    input_sha256: Mapped[str] = mapped_column(primary_key=True)
    engine: Mapped[str] = mapped_column(primary_key=True)
    additions: Mapped[int]  # the session's, when this was derived
    document: Mapped[bytes]


# Columns that the list can be sorted by.
LISTED_BY = (
    "updated_ms", "started_ms", "name_key", "vehicle_key", "course_key", "event_count",
    "reading_count", "fix_count", "outcome", "reserve_distance_m", "reserve_energy_kwh",
    "reserve_duration_s", "share_of_usable_pct", "consumption_wh_per_km", "full_power_kw",
    "published_ms",
)  # fmt: skip


class OverviewRow(Base):
    """A session's line of the list, kept so that a list reads nothing else. All of it is derived.

    The first part is of what was recorded, as of ``additions``; the second of the result that
    ``engine`` found as of ``found_additions``, and behind when those are fewer.
    """

    __tablename__ = "overview"
    __table_args__ = (
        # To count all, and those behind, without reading the lines.
        Index("ix_overview_state", "archived", "engine", "found_additions", "additions"),
        # To read lines in order without sorting them: most lists leave out what is put away.
        *(Index(f"ix_overview_{name}", "archived", name) for name in LISTED_BY),
    )

    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"), primary_key=True)
    additions: Mapped[int]
    updated_ms: Mapped[int]
    archived: Mapped[bool]
    title: Mapped[str | None]
    started_at: Mapped[str | None]  # as written
    started_ms: Mapped[int | None]
    started_day: Mapped[str | None]  # by the session's own clock
    vehicle_label: Mapped[str | None]
    course_label: Mapped[str | None]
    name_key: Mapped[str | None]  # keys: case folded, to sort and search by
    vehicle_key: Mapped[str | None]
    course_key: Mapped[str | None]
    event_count: Mapped[int]
    reading_count: Mapped[int]
    fix_count: Mapped[int]

    engine: Mapped[str | None]
    found_additions: Mapped[int | None]
    failure: Mapped[str | None]  # why the engine could find nothing
    outcome: Mapped[str | None]
    reserve_distance_m: Mapped[float | None]
    reserve_energy_kwh: Mapped[float | None]
    reserve_duration_s: Mapped[float | None]
    share_of_usable_pct: Mapped[float | None]
    consumption_wh_per_km: Mapped[float | None]
    full_power_kw: Mapped[float | None]
    claimed_until_ms: Mapped[int | None]  # somebody is working its result out

    published_ms: Mapped[int | None]  # last
    published_differs: Mapped[bool | None]  # the figures are no longer those published
    # Last because they are long, and a database need not read past what it looks for.
    figures: Mapped[Document | None]  # every headline figure with its interval
    words: Mapped[str]  # all that can be searched for, case folded


class PublicationRow(Base):
    """What was published of a session or of a campaign, as it was then. Only ever added."""

    __tablename__ = "publication"
    __table_args__ = (
        CheckConstraint("(session_id IS NULL) <> (campaign_id IS NULL)", name="ck_publication_of"),
    )

    id: Mapped[UUID] = mapped_column(primary_key=True)
    session_id: Mapped[UUID | None] = mapped_column(ForeignKey("session.id"), index=True)
    campaign_id: Mapped[UUID | None] = mapped_column(ForeignKey("campaign.id"), index=True)
    published_ms: Mapped[int]
    by: Mapped[str | None]
    note: Mapped[str | None]  # where it appeared
    engine: Mapped[str]
    input_sha256: Mapped[str]  # of all that it rests on
    revision: Mapped[int]  # of the set-up, or of the campaign's definition
    document: Mapped[bytes]  # the whole result, or the comparison with its definition


class CampaignRow(Base):
    """A saved selection of sessions and how they are to be compared."""

    __tablename__ = "campaign"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    name: Mapped[str]
    notes: Mapped[str | None]
    definition: Mapped[Document]
    revision: Mapped[int]
    created_ms: Mapped[int]
    updated_ms: Mapped[int]


class ComparisonRow(Base):
    """A campaign's comparison document, kept under what it was derived from. May be thrown away
    any time.
    """

    __tablename__ = "comparison"

    campaign_id: Mapped[UUID] = mapped_column(ForeignKey("campaign.id"), primary_key=True)
    input_sha256: Mapped[str]  # of the definition and each session's evidence
    engine: Mapped[str]
    document: Mapped[bytes]
    published_differs: Mapped[bool | None]  # it no longer tells what was published last


class AccountRow(Base):
    """One person at the desk."""

    __tablename__ = "account"

    name: Mapped[str] = mapped_column(primary_key=True)
    password_hash: Mapped[str]
    created_ms: Mapped[int]


class KeyRow(Base):
    """One phone's way into one session, or a look at it. The secret itself is nowhere, only its
    hash.
    """

    __tablename__ = "phone_key"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"))
    label: Mapped[str]
    secret_sha256: Mapped[str] = mapped_column(unique=True)
    created_ms: Mapped[int]
    last_used_ms: Mapped[int | None]
    revoked_ms: Mapped[int | None]
    looks: Mapped[bool] = mapped_column(default=False, server_default=false())
    devices: Mapped[list[str]] = mapped_column(JSON, default=list, server_default="[]")


class SigningSecretRow(Base):
    """What signs the cookies of signed-in people, the same for every process of this database."""

    __tablename__ = "signing_secret"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    secret: Mapped[bytes]
