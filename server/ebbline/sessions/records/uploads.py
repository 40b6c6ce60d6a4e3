"""Taking in what a phone or a desk sends: each record for itself, as often as it likes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import ConflictError, InputError, TooLargeError
from ebbline.exchange import clock_checks, session_file
from ebbline.sessions.records.conflicts import ANOTHERS, CIRCULAR, DIFFERENT
from ebbline.sessions.records.sieve import MOST_REFUSED_FIXES, Sieve, rows_of
from ebbline.store import breadcrumbs, observations, sessions
from ebbline.store.models import ClockCheckRow, EventRow, ReadingRow
from ebbline.store.observations import Table

Numbered = list[tuple[int, dict[str, Any]]]  # records with their places in the upload

# Of one upload: several times what a phone sends at once, little enough to answer in a moment.
MOST_RECORDS, MOST_ENTRIES, MOST_FIXES = 2_000, 500, 100_000
LONGEST_ID = 200  # that a refusal repeats; none that is sound is longer


@dataclass(frozen=True, slots=True)
class Upload:
    """Records as they came, unchecked.

    ``sole`` says that a correction must be the only one of its record: the whole upload is
    refused when somebody else has corrected it already. ``only_of`` names the one device whose
    records may come: none that says another's name, and none that corrects another's.
    """

    events: Sequence[object] = ()
    readings: Sequence[object] = ()
    breadcrumbs: Sequence[object] = ()
    clock_checks: Sequence[object] = ()
    sole: bool = False
    only_of: str | None = None


@dataclass(frozen=True, slots=True)
class Refusal:
    """One record that was not taken, and why."""

    kind: str
    id: str | None
    where: str
    problem: str


@dataclass(slots=True)
class Receipt:
    """What of one upload is held durably, and what was refused."""

    events: list[str] = field(default_factory=list)
    readings: list[str] = field(default_factory=list)
    clock_checks: list[str] = field(default_factory=list)
    fixes: dict[str, list[int]] = field(default_factory=dict)  # device to seq
    refused: list[Refusal] = field(default_factory=list)
    new: int = 0

    def held(self) -> dict[str, Any]:
        """What is held, fixes as runs of ``seq`` per device."""
        return {
            "events": self.events,
            "readings": self.readings,
            "breadcrumbs": [
                {"device": device, "ranges": _runs(seqs)} for device, seqs in self.fixes.items()
            ],
            "clock_checks": self.clock_checks,
        }


def store_records(db_session: Session, session_id: UUID, upload: Upload, now_ms: int) -> Receipt:
    """Store what is new and well-formed; sending the same again changes nothing.

    When this returns, everything the receipt names as held has been committed.

    Raises:
        TooLargeError: more than one upload may hold; nothing of it is stored.
        NotFoundError: no such session.
        ConflictError: a correction that had to be the only one of its record is not.
    """
    _refuse_too_many(upload)
    receipt = Receipt()
    events = _checked(upload.events, "event", "events", session_file.check_event, receipt)
    readings = _checked(upload.readings, "reading", "readings", session_file.check_reading, receipt)
    checks = _checked(
        upload.clock_checks, "clock_check", "clock_checks", clock_checks.check, receipt
    )
    sieve = Sieve()
    entries = []
    for index, raw in enumerate(upload.breadcrumbs):
        entry, malformed = sieve.sound(raw, f"breadcrumbs[{index}]")
        receipt.refused += [
            Refusal("breadcrumbs", None, error.where, error.problem) for error in malformed
        ]
        if entry is not None:
            entries.append((index, entry))

    row = sessions.lock(db_session, session_id)
    if upload.only_of is not None:
        only = _Only(db_session, session_id, upload.only_of, receipt)
        events, readings = only.its(EventRow, events), only.its(ReadingRow, readings)
        checks = only.its(ClockCheckRow, checks)
        entries = only.named(entries, "breadcrumbs", "breadcrumbs")
    if upload.sole:
        _refuse_second_corrections(db_session, session_id, events, readings)
    for table, records, held in (
        (EventRow, events, receipt.events),
        (ReadingRow, readings, receipt.readings),
        (ClockCheckRow, checks, receipt.clock_checks),
    ):
        _store(db_session, table, session_id, records, held, receipt, now_ms)
    sound = [entry for _, entry in entries]
    outcomes = breadcrumbs.add_all(db_session, session_id, sound, now_ms)
    for (index, entry), added in zip(entries, outcomes, strict=True):
        receipt.fixes.setdefault(entry["device"], []).extend(added.held)
        receipt.new += len(added.new)
        receipt.refused += [
            Refusal("breadcrumbs", None, f"breadcrumbs[{index}].seq", f"{seq} {DIFFERENT}")
            for seq in added.conflicting[:MOST_REFUSED_FIXES]
        ]
    if receipt.new:
        sessions.note_addition(row, now_ms)
    db_session.commit()
    return receipt


def _refuse_too_many(upload: Upload) -> None:
    entries = upload.breadcrumbs
    for place, count, most, of in (
        ("events", len(upload.events), MOST_RECORDS, "records"),
        ("readings", len(upload.readings), MOST_RECORDS, "records"),
        ("clock_checks", len(upload.clock_checks), MOST_RECORDS, "records"),
        ("breadcrumbs", len(entries), MOST_ENTRIES, "entries"),
        ("breadcrumbs", sum(rows_of(raw) for raw in entries), MOST_FIXES, "fixes"),
    ):
        if count > most:
            raise TooLargeError(
                place, f"has {count:,} {of}; {most:,} are the most in one upload: send it in parts"
            )


class _Only:
    """Lets through what one device recorded; the rest goes to the receipt."""

    def __init__(
        self, db_session: Session, session_id: UUID, device: str, receipt: Receipt
    ) -> None:
        self._db_session, self._session_id = db_session, session_id
        self._device, self._receipt = device, receipt

    def its(self, table: Table, records: Numbered) -> Numbered:
        kind, place = _PLACES[table]
        named = self.named(records, kind, place)
        corrected = {record["corrects"] for _, record in named if record.get("corrects")}
        recorders = observations.devices_of(
            self._db_session, table, self._session_id, sorted(corrected)
        )
        return self._sift(
            named,
            kind,
            place,
            lambda record: (
                recorders.get(record.get("corrects") or "", self._device) == self._device
            ),
            "corrects",
        )

    def named(self, records: Numbered, kind: str, place: str) -> Numbered:
        own = self._device
        return self._sift(records, kind, place, lambda record: record["device"] == own, "device")

    def _sift(
        self,
        records: Numbered,
        kind: str,
        place: str,
        passes: Callable[[dict[str, Any]], bool],
        key: str,
    ) -> Numbered:
        self._receipt.refused += [
            Refusal(kind, _id_of(record), f"{place}[{index}].{key}", ANOTHERS)
            for index, record in records
            if not passes(record)
        ]
        return [(index, record) for index, record in records if passes(record)]


def _refuse_second_corrections(
    db_session: Session,
    session_id: UUID,
    events: list[tuple[int, dict[str, Any]]],
    readings: list[tuple[int, dict[str, Any]]],
) -> None:
    conflicts: list[dict[str, object]] = []
    for table, records in ((EventRow, events), (ReadingRow, readings)):
        offered = [record for _, record in records if record.get("corrects") is not None]
        originals: set[str] = {record["corrects"] for record in offered}
        held = observations.corrections_of(db_session, table, session_id, originals)
        for record in offered:
            there = held.get(record["corrects"], [])
            if there and all(other["id"] != record["id"] for other in there):  # sent again: fine
                conflicts.append({"id": record["corrects"], "yours": record, "held": there[-1]})
    if conflicts:
        db_session.rollback()
        raise ConflictError(
            "somebody else has corrected the same meanwhile; nothing of yours was stored",
            conflicts=conflicts,
        )


_PLACES = {EventRow: ("event", "events"), ReadingRow: ("reading", "readings"),
           ClockCheckRow: ("clock_check", "clock_checks")}  # fmt: skip


def _store(
    db_session: Session,
    table: Table,
    session_id: UUID,
    records: list[tuple[int, dict[str, Any]]],
    held: list[str],
    receipt: Receipt,
    now_ms: int,
) -> None:
    kind, place = _PLACES[table]
    sound = [record for _, record in records]
    added = observations.add_new(db_session, table, session_id, sound, now_ms)
    held += [sound[index]["id"] for index in added.held]
    receipt.new += len(added.new)
    receipt.refused += [
        Refusal(kind, sound[index]["id"], f"{place}[{records[index][0]}].id", DIFFERENT)
        for index in added.conflicting
    ]
    receipt.refused += [
        Refusal(kind, sound[index]["id"], f"{place}[{records[index][0]}].corrects", CIRCULAR)
        for index in added.circular
    ]


def _checked(
    raws: Sequence[object],
    kind: str,
    place: str,
    check: Callable[[object, str], None],
    receipt: Receipt,
) -> list[tuple[int, dict[str, Any]]]:
    """The sound ones with their index; the others go to the receipt."""
    sound: list[tuple[int, dict[str, Any]]] = []
    for index, raw in enumerate(raws):
        try:
            check(raw, f"{place}[{index}]")
        except InputError as error:
            receipt.refused.append(Refusal(kind, _id_of(raw), error.where, error.problem))
        else:
            assert isinstance(raw, dict)
            sound.append((index, raw))
    return sound


def _id_of(raw: object) -> str | None:
    found = raw.get("id") if isinstance(raw, dict) else None
    return found if isinstance(found, str) and len(found) <= LONGEST_ID else None


def _runs(seqs: list[int]) -> list[list[int]]:
    """Whole numbers as runs ``[first, last]``, both ends included."""
    runs: list[list[int]] = []
    for seq in sorted(set(seqs)):
        if runs and seq == runs[-1][1] + 1:
            runs[-1][1] = seq
        else:
            runs.append([seq, seq])
    return runs
