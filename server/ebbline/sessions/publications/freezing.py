"""Freezing what is published: all of it as it is now, when and by whom."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID, uuid4

from sqlalchemy.orm import Session

from ebbline.errors import InputError
from ebbline.store import publications
from ebbline.store.models import PublicationRow


@dataclass(frozen=True, slots=True)
class Found:
    """What is found now: its document, what made it, the hash of all that it rests on, and the
    revision of the set-up or of the campaign's definition.
    """

    document: bytes
    engine: str
    input_sha256: str
    revision: int


def freeze(
    db_session: Session,
    found: Found,
    by: str | None,
    note: str | None,
    now_ms: int,
    *,
    session_id: UUID | None = None,
    campaign_id: UUID | None = None,
) -> UUID:
    """Keep it for good as published: of a session or of a campaign.

    Raises:
        InputError: a text that no database takes.
        NotFoundError: the campaign was deleted meanwhile.
    """
    for where, text in (("by", by), ("note", note)):
        if "\x00" in (text or ""):
            raise InputError(where, "a NUL has no place in it")
    row = PublicationRow(
        id=uuid4(),
        session_id=session_id,
        campaign_id=campaign_id,
        published_ms=now_ms,
        by=by,
        note=note,
        engine=found.engine,
        input_sha256=found.input_sha256,
        revision=found.revision,
        document=found.document,
    )
    publication_id = row.id
    publications.add(db_session, row)
    return publication_id


def frozen(db_session: Session, publication_id: UUID) -> bytes:
    """The whole document that was frozen with a publication.

    Raises:
        NotFoundError: no such publication.
    """
    return publications.find(db_session, publication_id).document
