"""What was published of a campaign: its definition, each session's evidence and the comparison."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.campaigns.account import account_of
from ebbline.campaigns.comparison import comparison_by
from ebbline.campaigns.definitions import Campaign, campaign_of, document_of
from ebbline.campaigns.naming import names_of
from ebbline.engine import engine_id
from ebbline.errors import ConflictError
from ebbline.exchange import json_text
from ebbline.exchange.session_file import sha256_of
from ebbline.report.days import day_words
from ebbline.sessions.publications.freezing import Found, freeze
from ebbline.sessions.publications.of_session import what_changed
from ebbline.sessions.records.setups import current_setup
from ebbline.store import publications, results
from ebbline.store.models import Document, PublicationRow

if TYPE_CHECKING:
    from ebbline.report.figures import Units
    from ebbline.report.told import Account, Reason
    from ebbline.sessions.publications.since import Publication

FORMAT, VERSION = "ebbline-published-campaign", 1
_WHAT_COUNTS = ("zero_basis", "reserve_end", "session_ids", "left_out")


def record_publication(
    db_session: Session, campaign_id: UUID, by: str | None, note: str | None, now_ms: int
) -> UUID:
    """Freeze what is published now: the comparison, its definition and what it rests on.

    Raises:
        NotFoundError: no such campaign.
        ConflictError: sessions of it are not worked out yet.
        InputError: a text that no database takes.
    """
    campaign = campaign_of(db_session, campaign_id)
    document = _document(db_session, campaign)
    behind = document["comparison"]["behind"]
    if behind:
        raise ConflictError(
            f"{len(behind)} of its sessions are not worked out yet: wait until they are, or leave "
            f"them out with a reason"
        )
    rests_on = {key: document[key] for key in ("definition", "sessions")}
    found = Found(
        document=json_text.dump(document),
        engine=document["comparison"]["engine"],
        input_sha256=sha256_of(json_text.dump(rests_on)),
        revision=campaign.revision,
    )
    return freeze(db_session, found, by, note, now_ms, campaign_id=campaign_id)


def publications_of(db_session: Session, campaign_id: UUID, units: Units) -> list[Publication]:
    """Every publication of a campaign beside what is found now, the last one first. While sessions
    of it are being renewed there is nothing to compare with.

    Raises:
        NotFoundError: no such campaign.
    """
    from ebbline.sessions.publications.since import Subject, beside_now

    campaign = campaign_of(db_session, campaign_id)
    rows = publications.of_campaign(db_session, campaign_id)
    if not rows:
        return []
    now = _document(db_session, campaign)

    def reasons(row: PublicationRow, then: Any) -> list[Reason]:
        return _reasons(db_session, row, then, now)

    whole = None if now["comparison"]["behind"] else now
    subject = Subject(campaign.definition.name, whole, _summary, _account, reasons)
    return beside_now(rows, subject, units)


def _document(db_session: Session, campaign: Campaign) -> Document:
    """What is frozen of a campaign as it is now."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "campaign_id": str(campaign.id),
        "definition": document_of(campaign.definition),
        "sessions": [_session(db_session, one) for one in campaign.definition.named],
        "comparison": comparison_by(db_session, campaign.definition),
    }


def _session(db_session: Session, session_id: UUID) -> Document:
    """What is looked at of a session: its name among others, and what its figures rest on."""
    held = current_setup(db_session, session_id)
    car, title, day = names_of(held.setup)
    name = car or title or "a session"
    return {
        "session_id": str(session_id),
        "name": f"{name} ({day_words(date.fromisoformat(day))})" if day else name,
        "input_sha256": results.input_of_cached(db_session, session_id, engine_id()),
        "setup_revision": held.revision,
    }


def _account(document: Any) -> Account:
    names = {one["session_id"]: one["name"] for one in document["sessions"]}
    return account_of(document["comparison"], names)


def _summary(document: Any) -> dict[str, Any]:
    comparison, definition = document["comparison"], document["definition"]
    model = comparison["reserve_model"]
    return {
        "name": definition["name"],
        "statement": model["statement"],
        "verdict": model["verdict"],
        "cars": model["cars"],
        "sessions": len(comparison["sessions"]),
        "left_out": len(comparison["left_out"]),
        "zero_basis": comparison["zero_basis"],
        "reserve_end": comparison["reserve_end"],
    }


def _reasons(db_session: Session, row: PublicationRow, then: Any, now: Any) -> list[Reason]:
    """Sessions that were in it then and are now tell of evidence and choices as by themselves."""
    held = {one["session_id"]: one for one in now["sessions"]}
    found: set[Reason] = set()
    if now["comparison"]["engine"] != row.engine:
        found.add("engine")
    for one in then["sessions"]:
        other = held.get(one["session_id"])
        if other and one["input_sha256"] and other["input_sha256"]:
            found.update(
                what_changed(
                    db_session, UUID(one["session_id"]), one["input_sha256"],
                    one["setup_revision"], other["input_sha256"],
                )
            )  # fmt: skip
    if any(then["definition"][key] != now["definition"][key] for key in _WHAT_COUNTS):
        found.add("choices")
    order: tuple[Reason, ...] = ("engine", "evidence", "choices")
    return [reason for reason in order if reason in found]
