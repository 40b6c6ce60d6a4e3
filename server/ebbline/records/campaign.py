"""A campaign: which sessions are compared, from which zero to which end, and what is left out;
and what of it is frozen beside its comparison when it is published.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias
from uuid import UUID

ZeroBasis: TypeAlias = Literal["zero_soc", "zero_range"]
ReserveEnd: TypeAlias = Literal["propulsion_off", "contactors_open", "standstill"]


@dataclass(frozen=True, slots=True)
class SetAside:
    """A session that was looked at and is not compared, and why."""

    session_id: UUID
    why: str


@dataclass(frozen=True, slots=True)
class Definition:
    """What a campaign is. ``zero_basis`` and ``reserve_end`` None: each session's own.
    ``tested_by``: who drove and recorded.
    """

    name: str
    notes: str | None = None
    zero_basis: ZeroBasis | None = None
    reserve_end: ReserveEnd | None = None
    session_ids: tuple[UUID, ...] = ()
    left_out: tuple[SetAside, ...] = ()
    tested_by: str | None = None

    @property
    def named(self) -> tuple[UUID, ...]:
        """Every session that it names, those left out too."""
        return (*self.session_ids, *(one.session_id for one in self.left_out))


@dataclass(frozen=True, slots=True)
class PublishedSession:
    """What was looked at of a session: its name among others, and what its figures rest on.

    ``input_sha256`` is of the session file that was analysed, None where nothing was found.
    """

    session_id: UUID
    name: str
    input_sha256: str | None
    setup_revision: int


@dataclass(frozen=True, slots=True)
class PublishedCampaign:
    """What a published comparison was made of."""

    campaign_id: UUID
    definition: Definition
    sessions: tuple[PublishedSession, ...]
