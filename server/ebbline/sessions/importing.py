"""Looking at what others recorded before any of it is stored."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from ebbline.exchange.csv_guess import Guess, guess
from ebbline.exchange.csv_mapping import UNITS
from ebbline.exchange.evidence import Evidence, kind_of
from ebbline.sessions.evidence import Stated, Taken, add_read, create_for, read_evidence


@dataclass(frozen=True, slots=True)
class Look:
    """What a file would bring, or for a CSV without a mapping how it might be read.

    ``guess`` is None unless nothing was read yet; ``units`` says what each quantity of a mapping
    may be in. Counts and times are of what was read.
    """

    kind: str
    devices: list[str]
    fixes: int
    events: int
    log_rows: int
    from_ms: int | None
    to_ms: int | None
    notes: list[str]
    guess: Guess | None
    units: dict[str, list[str]]


def look(data: bytes, stated: Stated) -> Look:
    """Read a GPX or CSV file and say what is in it; touches no database.

    Raises:
        InputError: the file or what was stated of it is malformed, with the place.
        TooLargeError: more than we take.
    """
    kind = kind_of(data)
    units = {quantity: list(factors) for quantity, factors in UNITS.items()}
    if kind == "csv" and stated.mapping is None:
        proposed = guess(data, stated.zone)
        return Look(kind, [], 0, 0, 0, None, None, [], proposed, units)
    evidence = read_evidence(data, stated)
    first_ms, last_ms = _span_ms(evidence)
    return Look(
        kind=kind,
        devices=evidence.devices(),
        fixes=evidence.count_fixes(),
        events=len(evidence.events),
        log_rows=evidence.count_log_rows(),
        from_ms=first_ms,
        to_ms=last_ms,
        notes=evidence.notes,
        guess=None,
        units=units,
    )


def add_as_session(db_session: Session, data: bytes, stated: Stated, now_ms: int) -> Taken:
    """Take a GPX or CSV file in as a session of its own; the same file gives the same session.

    Raises:
        InputError: the file or what was stated of it is malformed; then no session is made.
        ConflictError: its session holds the same rows as something else.
    """
    evidence = read_evidence(data, stated)
    session_id = create_for(db_session, data, stated.name, now_ms)
    return add_read(db_session, session_id, evidence, now_ms)


def _span_ms(evidence: Evidence) -> tuple[int | None, int | None]:
    columns: list[list[Any]] = [entry["t_ms"] for entry in (*evidence.breadcrumbs, *evidence.logs)]
    columns.append([event["t_ms"] for event in evidence.events])
    ends = [edge for column in columns if column for edge in (min(column), max(column))]
    return (min(ends), max(ends)) if ends else (None, None)
