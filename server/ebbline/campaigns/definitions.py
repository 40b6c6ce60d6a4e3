"""Campaigns: which sessions are compared, from which zero to which end, and what is left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args
from uuid import UUID, uuid4

from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError
from ebbline.exchange.plain import plain
from ebbline.records.campaign import Definition, ReserveEnd, SetAside, ZeroBasis
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import campaigns, comparisons, publications
from ebbline.store.engine import begin_write
from ebbline.store.models import CampaignRow, Document

ZERO_BASES: tuple[ZeroBasis, ...] = get_args(ZeroBasis)
RESERVE_ENDS: tuple[ReserveEnd, ...] = get_args(ReserveEnd)


@dataclass(frozen=True, slots=True)
class Campaign:
    """A saved definition; times in RFC 3339."""

    id: UUID
    revision: int
    created_at: str
    updated_at: str
    definition: Definition


def campaigns_of(db_session: Session) -> list[Campaign]:
    """Every campaign, by name."""
    return [_campaign(row) for row in campaigns.by_name(db_session)]


def campaign_of(db_session: Session, campaign_id: UUID) -> Campaign:
    """One campaign.

    Raises:
        NotFoundError: no such campaign.
    """
    return _campaign(campaigns.find(db_session, campaign_id))


def sessions_of(db_session: Session, campaign_id: UUID) -> tuple[UUID, ...]:
    """Every session that a campaign names, those left out too.

    Raises:
        NotFoundError: no such campaign.
    """
    return campaign_of(db_session, campaign_id).definition.named


def make_campaign(db_session: Session, definition: Definition, now_ms: int) -> Campaign:
    """Save a new campaign.

    Raises:
        InputError: it names a session that isn't there, or one twice.
    """
    begin_write(db_session)
    _check(db_session, definition)
    row = CampaignRow(
        id=uuid4(),
        name=definition.name,
        notes=definition.notes,
        definition=_kept(definition),
        revision=1,
        created_ms=now_ms,
        updated_ms=now_ms,
    )
    db_session.add(row)
    db_session.commit()
    return _campaign(row)


def change_campaign(
    db_session: Session, campaign_id: UUID, base: int, definition: Definition, now_ms: int
) -> Campaign:
    """Save another definition of a campaign, made from its revision ``base``.

    Raises:
        NotFoundError: no such campaign.
        InputError: it names a session that isn't there, or one twice.
        ConflictError: somebody else changed it since ``base``.
    """
    row = campaigns.lock(db_session, campaign_id)
    if row.revision != base:
        held = row.revision
        db_session.rollback()
        raise ConflictError(
            f"the campaign was changed by someone else: it is at revision {held}, "
            f"yours was made from {base}"
        )
    _check(db_session, definition)
    row.name = definition.name
    row.notes = definition.notes
    row.definition = _kept(definition)
    row.revision += 1
    row.updated_ms = now_ms
    db_session.commit()
    return _campaign(row)


def delete_campaign(db_session: Session, campaign_id: UUID) -> Campaign:
    """Delete a campaign and return what it was; its sessions stay as they are. One that was
    published stays: without its definition nobody could work out what to tell its readers.

    Raises:
        NotFoundError: no such campaign.
        ConflictError: it was recorded as published.
    """
    row = campaigns.lock(db_session, campaign_id)
    last_ms = publications.last_of_campaigns(db_session, [campaign_id]).get(campaign_id)
    if last_ms is not None:
        db_session.rollback()
        raise ConflictError(
            f"the campaign was recorded as published, last on {rfc3339(last_ms)[:10]}: it stays, "
            f"so that its readers can be told what changes"
        )
    deleted = _campaign(row)
    comparisons.forget(db_session, campaign_id)
    db_session.delete(row)
    db_session.commit()
    return deleted


def definition_of(document: Document) -> Definition:
    """A definition by the keys that the API has for it; older ones don't say by whom."""
    return Definition(
        name=document["name"],
        notes=document["notes"],
        zero_basis=document["zero_basis"],
        reserve_end=document["reserve_end"],
        session_ids=tuple(UUID(one) for one in document["session_ids"]),
        left_out=tuple(
            SetAside(UUID(one["session_id"]), one["why"]) for one in document["left_out"]
        ),
        tested_by=document.get("tested_by"),
    )


def _check(db_session: Session, definition: Definition) -> None:
    """Raises InputError, with nothing written."""
    said = {"name": definition.name, "notes": definition.notes, "tested_by": definition.tested_by}
    for where, text in said.items():
        if text and "\x00" in text:  # PostgreSQL's text has none
            db_session.rollback()
            raise InputError(where, "a NUL has no place in it")
    named = [
        *((f"session_ids[{i}]", one) for i, one in enumerate(definition.session_ids)),
        *((f"left_out[{i}].session_id", one.session_id)
          for i, one in enumerate(definition.left_out)),
    ]  # fmt: skip
    seen: set[UUID] = set()
    missing = campaigns.not_there(db_session, [session_id for _, session_id in named])
    for where, session_id in named:
        problem = None
        if session_id in missing:
            problem = f"there is no session {session_id}"
        elif session_id in seen:
            problem = f"names session {session_id} a second time"
        if problem:
            db_session.rollback()
            raise InputError(where, problem)
        seen.add(session_id)


def _kept(definition: Definition) -> Document:
    """What has no column of its own."""
    document: Document = plain(definition, "definition")
    return {key: said for key, said in document.items() if key not in ("name", "notes")}


def _campaign(row: CampaignRow) -> Campaign:
    definition = definition_of({"name": row.name, "notes": row.notes, **row.definition})
    return Campaign(
        row.id, row.revision, rfc3339(row.created_ms), rfc3339(row.updated_ms), definition
    )
