"""A campaign of the database as a data package or a report, by the results kept of its sessions."""

from __future__ import annotations

from uuid import UUID

import orjson
from sqlalchemy.orm import Session

from ebbline.campaigns.comparison import noted_of
from ebbline.campaigns.definitions import campaign_of
from ebbline.campaigns.kept import kept, names_by
from ebbline.campaigns.package.descriptor import Statement
from ebbline.campaigns.package.package import package
from ebbline.campaigns.package.tables import PackedSession
from ebbline.engine import engine_id
from ebbline.report.figures import Units
from ebbline.sessions.records.document import document_of
from ebbline.store import results


def report_of(db_session: Session, campaign_id: UUID, units: Units) -> bytes:
    """A campaign's report as PDF.

    Raises:
        NotFoundError: no such campaign.
    """
    from ebbline.campaigns.report import Told, report_pdf

    campaign = campaign_of(db_session, campaign_id)
    comparison = kept(db_session, campaign).document
    names = names_by(db_session, campaign.definition.named)
    return report_pdf(Told(campaign.definition, comparison, names, units))


def package_of(
    db_session: Session,
    campaign_id: UUID,
    *,
    licence: str | None = None,
    contributors: tuple[str, ...] = (),
    sources: tuple[str, ...] = (),
    with_sessions: bool = False,
) -> bytes:
    """A campaign's package as a ZIP.

    Raises:
        NotFoundError: no such campaign.
        InputError: the licence is neither an identifier nor an address.
    """
    campaign = campaign_of(db_session, campaign_id)
    definition = campaign.definition
    statement = Statement(
        definition.name, definition.notes, licence, contributors, sources, definition.tested_by
    )
    comparison = kept(db_session, campaign).document
    set_aside = [one.session_id for one in definition.left_out]
    document = document_of if with_sessions else noted_of
    sessions = [
        PackedSession(document(db_session, one), None if held is None else orjson.loads(held))
        for one in definition.named
        for held in [results.cached(db_session, one, engine_id())]
    ]
    return package(
        {key: part for key, part in comparison.items() if key != "behind"},
        sessions,
        statement,
        with_sessions=with_sessions,
        chosen={"zero": definition.zero_basis, "end": definition.reserve_end},
        set_aside=map(str, set_aside),
    )
