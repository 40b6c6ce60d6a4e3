"""Tables. What was observed is only ever added: nothing here is updated or deleted except the
moment a session was last added to, whether it is archived, the cache of derived results, and who
may come in.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import JSON, BigInteger, ForeignKey, LargeBinary, MetaData, Text
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
    type_annotation_map = {Document: JSON, str: Text, int: BigInteger, bytes: LargeBinary}  # noqa: RUF012


class SessionRow(Base):
    """One field session. Writers lock this row, so they take turns."""

    __tablename__ = "session"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    created_ms: Mapped[int]
    updated_ms: Mapped[int]
    additions: Mapped[int]  # how often something was added; a cached result knows which it saw
    archived_ms: Mapped[int | None]  # since when it is put away


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


class AccountRow(Base):
    """One person at the desk."""

    __tablename__ = "account"

    name: Mapped[str] = mapped_column(primary_key=True)
    password_hash: Mapped[str]
    created_ms: Mapped[int]


class KeyRow(Base):
    """One phone's way into one session. The secret itself is nowhere, only its hash."""

    __tablename__ = "phone_key"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    session_id: Mapped[UUID] = mapped_column(ForeignKey("session.id"))
    label: Mapped[str]
    secret_sha256: Mapped[str] = mapped_column(unique=True)
    created_ms: Mapped[int]
    last_used_ms: Mapped[int | None]
    revoked_ms: Mapped[int | None]


class SigningSecretRow(Base):
    """What signs the cookies of signed-in people, the same for every process of this database."""

    __tablename__ = "signing_secret"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    secret: Mapped[bytes]
