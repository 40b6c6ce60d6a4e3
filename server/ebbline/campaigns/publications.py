"""What was published of a campaign: its definition, each session's evidence and the comparison."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.campaigns.definitions import Campaign, campaign_of
from ebbline.campaigns.kept import kept, told_by
from ebbline.campaigns.naming import name_of
from ebbline.engine import engine_id
from ebbline.errors import ConflictError
from ebbline.exchange import json_text, published_campaign
from ebbline.exchange.session_file import sha256_of
from ebbline.records.campaign import PublishedCampaign, PublishedSession
from ebbline.sessions.publications.freezing import Found, freeze
from ebbline.sessions.publications.of_session import what_changed
from ebbline.store import comparisons, publications, results, setups
from ebbline.store.models import Document, PublicationRow

if TYPE_CHECKING:
    from ebbline.report.figures import Units
    from ebbline.report.told import Reason
    from ebbline.sessions.publications.since import Publication

_WHAT_COUNTS = ("zero_basis", "reserve_end", "session_ids", "left_out")


def record_publication(
    db_session: Session, campaign_id: UUID, by: str | None, note: str | None, now_ms: int
) -> UUID:
    """Freeze what is published now: the comparison, its definition and what it rests on.

    Raises:
        NotFoundError: no such campaign.
        ConflictError: sessions of it are not worked out yet, or there is nothing to compare.
        InputError: a text that no database takes.
    """
    campaign = campaign_of(db_session, campaign_id)
    found = kept(db_session, campaign)
    behind = found.document["behind"]
    if behind:
        raise ConflictError(
            f"{len(behind)} of its sessions are not worked out yet: wait until they are, or leave "
            f"them out with a reason"
        )
    if not found.document["sessions"]:
        raise ConflictError(
            "there is nothing to publish: none of its sessions can be compared"
            if campaign.definition.session_ids
            else "there is nothing to publish: this campaign compares no session yet"
        )
    document = _document(db_session, campaign, found.document)
    rests_on = {key: document[key] for key in ("definition", "sessions")}
    frozen = Found(
        document=json_text.dump(document),
        engine=document["comparison"]["engine"],
        input_sha256=sha256_of(json_text.dump(rests_on)),
        revision=campaign.revision,
    )
    publication_id = freeze(db_session, frozen, by, note, now_ms, campaign_id=campaign_id)
    comparisons.tell_published(db_session, campaign_id, found.input_sha256)
    return publication_id


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
    comparison = kept(db_session, campaign).document
    now = _document(db_session, campaign, comparison)

    def reasons(row: PublicationRow, then: Any) -> list[Reason]:
        return _reasons(db_session, row, then, now)

    whole = None if comparison["behind"] else now
    subject = Subject(campaign.definition.name, whole, _summary, told_by, reasons)
    return beside_now(rows, subject, units)


def _document(db_session: Session, campaign: Campaign, comparison: Mapping[str, Any]) -> Document:
    """What is frozen of a campaign as it is now."""
    named = campaign.definition.named
    inputs = results.inputs_of_cached(db_session, named, engine_id())
    held = setups.current_of(db_session, named)
    made_of = PublishedCampaign(
        campaign.id,
        campaign.definition,
        tuple(
            PublishedSession(one, name_of(held[one].document), inputs.get(one), held[one].revision)
            for one in named
        ),
    )
    told = {key: part for key, part in comparison.items() if key != "behind"}
    return published_campaign.to_document(made_of, told)


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
