"""What became of publications since: by how much figures changed, why, and what to tell readers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import orjson

from ebbline.records.comparison import Figure
from ebbline.report.figures import Units
from ebbline.report.told import Account, Reason, Reworded
from ebbline.sessions.results.telling import changes, reworded
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.store.models import PublicationRow


@dataclass(frozen=True, slots=True)
class Changed:
    """A figure as published and as it is now; None: not known."""

    key: str
    of: str | None
    words: str
    dimension: str
    old: Figure
    new: Figure


@dataclass(frozen=True, slots=True)
class Publication:
    """What was published once. ``summary`` is the part of what was frozen that is shown of it.

    ``reasons`` say what is no longer as it was then (the engine, the evidence, the choices),
    ``changed`` and ``reworded`` which figures and sayings are others; ``erratum`` is what to tell
    readers, None where nothing changed that they could see. ``comparable`` is False where there is
    nothing now to compare with.
    """

    id: UUID
    published_at: str
    by: str | None
    note: str | None
    engine: str
    input_sha256: str
    revision: int
    summary: dict[str, Any]
    comparable: bool
    reasons: list[Reason]
    changed: list[Changed]
    reworded: list[Reworded]
    erratum: str | None


@dataclass(frozen=True, slots=True)
class Subject:
    """What was published, as it is now: ``now`` is what would be frozen, None where nothing would.

    ``summary`` and ``account`` say of a frozen document what is shown of it and what readers were
    told, ``reasons`` of a publication what isn't as it was then.
    """

    name: str
    now: Any | None
    summary: Callable[[Any], dict[str, Any]]
    account: Callable[[Any], Account]
    reasons: Callable[[PublicationRow, Any], list[Reason]]


def beside_now(rows: Iterable[PublicationRow], subject: Subject, units: Units) -> list[Publication]:
    """Publications of one subject beside what is found now."""
    now = None if subject.now is None else subject.account(subject.now)
    return [_publication(row, subject, now, units) for row in rows]


def _publication(
    row: PublicationRow, subject: Subject, now: Account | None, units: Units
) -> Publication:
    from ebbline.report.erratum import erratum

    document = orjson.loads(row.document)
    then = subject.account(document)
    reasons = [] if now is None else subject.reasons(row, document)
    figures = changes(then, now) if now is not None and reasons else []
    sayings = reworded(then, now) if now is not None and reasons else []
    text = None
    if now is not None and (figures or sayings):
        published = datetime.fromtimestamp(row.published_ms / 1000, UTC)
        text = erratum(subject.name, published, (then, now), figures, sayings, reasons, units)
    return Publication(
        id=row.id,
        published_at=rfc3339(row.published_ms),
        by=row.by,
        note=row.note,
        engine=row.engine,
        input_sha256=row.input_sha256,
        revision=row.revision,
        summary=subject.summary(document),
        comparable=now is not None,
        reasons=reasons,
        changed=[
            Changed(one.told.key, one.told.of, one.told.said(units), one.told.dimension, one.old,
                    one.told.figure)
            for one in figures
        ],
        reworded=sayings,
        erratum=text,
    )  # fmt: skip
