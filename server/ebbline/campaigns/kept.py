"""A campaign's comparison, kept by the hash of its inputs and its engine as results are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import orjson
from sqlalchemy.orm import Session

from ebbline.campaigns.account import account_of
from ebbline.campaigns.comparison import comparison_by
from ebbline.campaigns.definitions import Campaign, campaign_of, campaigns_of
from ebbline.campaigns.naming import name_of
from ebbline.engine import comparison_engine_id, engine_id
from ebbline.exchange import json_text
from ebbline.exchange.plain import plain
from ebbline.exchange.session_file import sha256_of
from ebbline.records.campaign import Definition
from ebbline.report.told import Account
from ebbline.sessions.results.telling import differ
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store import comparisons, publications, results, setups
from ebbline.store.models import ComparisonRow, Document


@dataclass(frozen=True, slots=True)
class Kept:
    """A comparison document, and the hash of all that it was worked out from."""

    document: Document
    input_sha256: str


@dataclass(frozen=True, slots=True)
class Line:
    """A campaign in the list; when it was published last (RFC 3339). ``published_differs``: its
    readers would be told otherwise now; None where that isn't known, until it is compared again.
    """

    campaign: Campaign
    published_at: str | None
    published_differs: bool | None


def comparison_of(db_session: Session, campaign_id: UUID) -> Document:
    """The comparison document of a campaign.

    Raises:
        NotFoundError: no such campaign.
    """
    return kept(db_session, campaign_of(db_session, campaign_id)).document


def kept(db_session: Session, campaign: Campaign) -> Kept:
    """A campaign's comparison, worked out where nothing is kept of these inputs.

    Raises:
        NotFoundError: the campaign was deleted meanwhile.
    """
    definition = campaign.definition
    inputs = results.inputs_of_cached(db_session, definition.named, engine_id())
    input_sha256 = _input_sha256(definition, inputs)
    engine = comparison_engine_id()
    held = comparisons.cached(db_session, campaign.id, input_sha256, engine)
    if held is not None:
        return Kept(orjson.loads(held), input_sha256)
    document = json_text.dump(comparison_by(db_session, definition))
    found: Document = orjson.loads(document)
    row = ComparisonRow(
        campaign_id=campaign.id,
        input_sha256=input_sha256,
        engine=engine,
        document=document,
        published_differs=_published_differs(db_session, campaign, found),
    )
    comparisons.keep(db_session, row)
    return Kept(found, input_sha256)


def lines_of(db_session: Session) -> list[Line]:
    """Every campaign by name, with what became of what was published. Nothing is compared."""
    campaigns = campaigns_of(db_session)
    published = publications.last_of_campaigns(db_session, [one.id for one in campaigns])
    engine = comparison_engine_id()
    held = {
        campaign_id: one
        for campaign_id, one in comparisons.kept_of(db_session, published).items()
        if one.engine == engine and one.published_differs is not None
    }
    told = [one for one in campaigns if one.id in held]
    named = {session_id for one in told for session_id in one.definition.named}
    inputs = results.inputs_of_cached(db_session, named, engine_id())

    def differs(campaign: Campaign) -> bool | None:
        one = held.get(campaign.id)
        if one is None or one.input_sha256 != _input_sha256(campaign.definition, inputs):
            return None
        return one.published_differs

    return [
        Line(one, rfc3339(published[one.id]) if one.id in published else None, differs(one))
        for one in campaigns
    ]


def told_by(document: Mapping[str, Any]) -> Account:
    """What readers were told by what was frozen."""
    names = {one["session_id"]: one["name"] for one in document["sessions"]}
    return account_of(document["comparison"], names)


def names_by(db_session: Session, session_ids: Iterable[UUID]) -> dict[str, str]:
    """What sessions are called inside a sentence, by their ids as text."""
    return {
        str(session_id): name_of(row.document)
        for session_id, row in setups.current_of(db_session, session_ids).items()
    }


def _published_differs(
    db_session: Session, campaign: Campaign, comparison: Document
) -> bool | None:
    last = publications.last_of_campaign(db_session, campaign.id)
    if last is None or comparison["behind"]:
        return None
    names = names_by(db_session, campaign.definition.named)
    return differ(told_by(orjson.loads(last)), account_of(comparison, names))


def _input_sha256(definition: Definition, inputs: Mapping[UUID, str]) -> str:
    """Of how sessions are compared, and of each one's evidence as far as its result is there."""
    return sha256_of(
        json_text.dump(
            {
                "zero_basis": definition.zero_basis,
                "reserve_end": definition.reserve_end,
                "session_ids": [[str(one), inputs.get(one)] for one in definition.session_ids],
                "left_out": [
                    [*plain(one, "left_out").values(), inputs.get(one.session_id)]
                    for one in definition.left_out
                ],
            }
        )
    )
