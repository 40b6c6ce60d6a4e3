"""The comparison that ends each run: what the screen confirmed with what the server holds."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from ebbline.vocabulary import event_detail, event_name, reading_name

from .ledger import NO_BREAK_SPACE, Attempt, Ledger

GAP_MS = 5000  # a longer stretch without fixes must be told as a gap, with its cause


@dataclass(slots=True)
class Verdict:
    """What one run showed."""

    confirmed: int = 0  # taps, readings, undos and pictures that the screen confirmed
    fixes: int = 0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)  # anything else that must not be
    seconds: float = 0.0

    def is_good(self) -> bool:
        return not (self.lost or self.doubled or self.wrong)


def judge(
    verdict: Verdict, ledger: Ledger, device: str, held: dict[str, Any], phone: dict[str, Any]
) -> None:
    """Compare one phone's ledger with the session file from the server.

    Args:
        verdict: is added to.
        ledger: what was touched and what the screen said.
        device: this phone's id.
        held: the session as the server exports it.
        phone: the rows of the phone's own database.
    """
    events = [one for one in held["events"] or [] if one["device"] == device and "log" not in one]
    readings = [one for one in held["readings"] or [] if one["device"] == device]
    _judge_taps(verdict, ledger, [*events, *readings])
    own = {one["id"] for one in (*held["events"], *held["readings"]) if one["device"] == device}
    verdict.wrong += [
        f"changes what another phone recorded: {one}"
        for one in (*events, *readings)
        if one.get("corrects") not in (None, *own)
    ]
    here = {row["doc"]["device"] for row in phone.get("records", [])}
    verdict.wrong += [f"{one}'s records are stored as {device}'s" for one in here - {device}]
    _judge_fixes(verdict, device, held, phone)
    _judge_gaps(verdict, device, held, phone)
    _judge_pictures(verdict, ledger, held)


def _judge_taps(verdict: Verdict, ledger: Ledger, records: list[dict[str, Any]]) -> None:
    ids = Counter(record["id"] for record in records)
    verdict.doubled += [f"id {one} {count} times" for one, count in ids.items() if count > 1]
    first = [one for one in records if one.get("corrects") is None]
    unmatched = list(first)
    for attempt in ledger.attempts:
        mine = [record for record in first if _is_of(record, attempt)]
        unmatched = [record for record in unmatched if record not in mine]
        if len(mine) > 1:
            verdict.doubled.append(f"{attempt}: {len(mine)} times")
        if attempt.state == "confirmed" and not mine:
            verdict.lost.append(str(attempt))
        if attempt.state == "refused" and mine:
            verdict.wrong.append(f"said to be refused, but held: {attempt}")
        if mine and attempt.detail and not _has_detail(mine[0], records, attempt.detail):
            verdict.lost.append(f"the detail of {attempt}")
    verdict.wrong += [f"nobody made {record}" for record in unmatched]
    taken_back = [record for record in records if _takes_back(record)]
    if len(taken_back) < ledger.undo_confirmed:
        verdict.lost.append(f"undo: {ledger.undo_confirmed} confirmed, {len(taken_back)} held")
    if len(taken_back) > len(ledger.undo_touches):
        verdict.doubled.append(f"undo: {len(ledger.undo_touches)} touches, {len(taken_back)} held")
    _judge_undo(verdict, ledger, records, taken_back)
    verdict.confirmed += len(ledger.confirmed()) + ledger.undo_confirmed


def _judge_undo(
    verdict: Verdict,
    ledger: Ledger,
    records: list[dict[str, Any]],
    taken_back: list[dict[str, Any]],
) -> None:
    """Only what the screen named at a touch of undo was taken back by it."""
    verdict.wrong += [f"undo called {one}" for one in ledger.undo_unnamed]
    by_id = {record["id"]: record for record in records}
    names = list(ledger.undo_touches)
    for original in (by_id[one["corrects"]] for one in taken_back):
        name = (
            f"{reading_name(original['quantity'])} {original['value']:g} "
            if "quantity" in original
            else event_name(original["kind"])
        )
        touched = next((one for one in names if one.startswith(name)), None)
        if touched is None:
            verdict.wrong.append(f"taken back, though undo never named it: {original}")
        else:
            names.remove(touched)


def _is_of(record: dict[str, Any], attempt: Attempt) -> bool:
    kind = record.get("kind") or record.get("quantity")
    same_value = attempt.value is None or record.get("value") == attempt.value
    return kind in attempt.kinds and record.get("mono_ms") == attempt.mono_ms and same_value


def _has_detail(record: dict[str, Any], records: list[dict[str, Any]], detail: str) -> bool:
    chain = [record, *(one for one in records if one.get("corrects") == record["id"])]
    said = {event_detail(one).replace(NO_BREAK_SPACE, " ") for one in chain if "kind" in one}
    return detail in said


def _takes_back(record: dict[str, Any]) -> bool:
    is_reading = "quantity" in record
    return record.get("corrects") is not None and bool(
        record.get("withdraws") or (is_reading and record.get("value") is None)
    )


def _judge_fixes(
    verdict: Verdict, device: str, held: dict[str, Any], phone: dict[str, Any]
) -> None:
    on_phone = [
        fix for chunk in phone["fixes"] for fix in _rows(chunk["columns"], ("t_ms", "lat", "lon"))
    ]
    on_server = [
        fix
        for entry in held["breadcrumbs"] or []
        if entry["device"] == device
        for fix in _rows(entry, ("t_ms", "lat", "lon"))
    ]
    verdict.fixes += len(on_server)
    ours, theirs = Counter(on_phone), Counter(on_server)
    verdict.lost += [f"fix {fix}" for fix in (ours - theirs)]
    verdict.doubled += [f"fix {fix}" for fix, count in theirs.items() if count > 1]
    places = Counter(fix[1:] for fix in on_server)
    verdict.doubled += [f"place {place}" for place, count in places.items() if count > 1]


def _judge_gaps(verdict: Verdict, device: str, held: dict[str, Any], phone: dict[str, Any]) -> None:
    told = [
        one["gap"]
        for one in held["events"] or []
        if one.get("log") == "gps_gap" and one["device"] == device
    ]
    moments = [t_ms for chunk in phone["fixes"] for t_ms in chunk["columns"]["t_ms"]]
    for before, after in itertools.pairwise(moments):
        if after - before > GAP_MS and not any(
            gap["from_ms"] <= before + 1 and gap["to_ms"] >= after - 1 and gap["cause"]
            for gap in told
        ):
            verdict.wrong.append(f"{(after - before) / 1000:.1f} s without fixes, not told")


def _judge_pictures(verdict: Verdict, ledger: Ledger, held: dict[str, Any]) -> None:
    there = Counter(one["sha256"] for one in held.get("photos") or [])
    wanted = set(ledger.pictures)
    verdict.lost += [f"picture {one}" for one in sorted(wanted) if one not in there]
    verdict.doubled += [f"picture {one}" for one in sorted(wanted) if there[one] > 1]
    verdict.confirmed += len(wanted)


def _rows(columns: dict[str, Any], names: tuple[str, ...]) -> Iterable[tuple[Any, ...]]:
    return zip(*(columns[name] for name in names), strict=True)
