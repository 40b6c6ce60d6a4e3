"""The session document: read, checked as a whole, and written again as it was."""

from __future__ import annotations

from typing import Any

import numpy as np

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange import json_text
from ebbline.exchange.columns import check_breadcrumbs
from ebbline.exchange.json_text import check_plain, join, shown
from ebbline.exchange.logs import check_log
from ebbline.exchange.schemas import EventSchema, PhotoSchema, ReadingSchema, SetupSchema, check

FORMAT, VERSION = "ebbline-session", 1
MAX_FILE_BYTES = 160 * 1024 * 1024
MAX_RECORDS = 50_000  # of each kind; nobody taps that often, and each is checked on its own

# What the run adds to the setup, and what only a file has.
RECORD_KEYS = ("breadcrumbs", "events", "readings", "photos", "logs")
ENVELOPE_KEYS = ("format", "version")

_SETUP, _EVENT, _READING, _PHOTO = SetupSchema(), EventSchema(), ReadingSchema(), PhotoSchema()


def load_document(data: bytes) -> dict[str, Any]:
    """Read and check a session file; the document comes back as it was, unknown keys and all, but
    for records in film time: these are placed in session time (``film_time``).

    Raises:
        TooLargeError: more than ``MAX_FILE_BYTES``, or than ``MAX_RECORDS`` of one kind.
        InputError: names the place and what is wrong there; ``$`` is the whole file.
    """
    if len(data) > MAX_FILE_BYTES:
        problem = f"has {len(data):,} bytes; {MAX_FILE_BYTES:,} are the most we take"
        raise TooLargeError("$", problem)
    from ebbline.exchange import film_time  # with the core, which a server loads after its start

    document = json_text.parse(data)
    films = film_time.set_aside(document)
    check_document(document)
    assert isinstance(document, dict)
    film_time.place(document, films)
    return document


def dump_document(document: dict[str, Any]) -> bytes:
    """Write a document: the same document gives the same bytes."""
    return json_text.dump(document)


def check_document(document: object) -> None:
    """Check a whole document, as ``load_document`` does.

    Raises:
        InputError: names the place and what is wrong there.
    """
    if not isinstance(document, dict):
        raise InputError("$", f"is {shown(document)}; a session file is an object")
    if document.get("format") != FORMAT:
        problem = f"is {shown(document.get('format'))}; a session file says {FORMAT!r}"
        raise InputError("format", problem)
    version = document.get("version")
    if type(version) is not int or version != VERSION:
        raise InputError("version", f"is {shown(version)}; we read version {VERSION}")
    check_setup(setup_of(document), "$")
    breadcrumbs = _list(document, "breadcrumbs")
    for i, entry in enumerate(breadcrumbs):
        check_breadcrumbs(entry, f"breadcrumbs[{i}]")
    _check_seq_across(breadcrumbs)
    events, readings, photos, logs = (
        _list(document, key) for key in ("events", "readings", "photos", "logs")
    )
    for i, event in enumerate(events):
        check_event(event, f"events[{i}]")
    for i, reading in enumerate(readings):
        check_reading(reading, f"readings[{i}]")
    for i, photo in enumerate(photos):
        check_photo(photo, f"photos[{i}]")
    for i, log in enumerate(logs):
        check_log(log, f"logs[{i}]")
    _check_one_log_of_a_file(logs)
    _check_unique(photos, "photos", "sha256")
    for name, records in (("events", events), ("readings", readings)):
        _check_unique(records, name, "id")
        _check_corrections(records, name)


def setup_of(document: dict[str, Any]) -> dict[str, Any]:
    """The setup in a document: what is there before the run adds anything."""
    outside = (*ENVELOPE_KEYS, *RECORD_KEYS)
    return {key: part for key, part in document.items() if key not in outside}


def check_setup(raw: object, where: str) -> None:
    """Check a setup: the document without format, version and what the run adds.

    Raises:
        InputError: names the place and what is wrong there.
    """
    check_plain(raw, where)
    check(_SETUP, raw, where)
    assert isinstance(raw, dict)
    for key in (*ENVELOPE_KEYS, *RECORD_KEYS):
        if key in raw:
            raise InputError(join(where, key), "does not belong in a setup")
    _check_unique(raw.get("devices") or [], join(where, "devices"), "id")


def check_event(raw: object, where: str) -> None:
    """Check one event. Whether ``corrects`` names an event only its session can tell.

    Raises:
        InputError: names the place and what is wrong there.
    """
    check_plain(raw, where)
    check(_EVENT, raw, where)


def check_reading(raw: object, where: str) -> None:
    """Check one reading, its unit against its quantity too.

    Raises:
        InputError: names the place and what is wrong there.
    """
    check_plain(raw, where)
    check(_READING, raw, where)


def check_photo(raw: object, where: str) -> None:
    """Check the entry of one photo, not its bytes.

    Raises:
        InputError: names the place and what is wrong there.
    """
    check_plain(raw, where)
    check(_PHOTO, raw, where)


def _list(document: dict[str, Any], key: str) -> list[Any]:
    value = document.get(key)
    if value is None:
        return []
    if not isinstance(value, list):
        raise InputError(key, f"is {shown(value)}; a list is needed")
    if len(value) > MAX_RECORDS:
        raise TooLargeError(key, f"has {len(value):,} entries; {MAX_RECORDS:,} are the most")
    return value


def _check_unique(records: list[dict[str, Any]], name: str, key: str) -> None:
    first: dict[str, int] = {}
    for i, record in enumerate(records):
        held = first.setdefault(record[key], i)
        if held != i:
            raise InputError(f"{name}[{i}].{key}", f"{shown(record[key])} is also {name}[{held}]")


def _check_one_log_of_a_file(logs: list[dict[str, Any]]) -> None:
    first: dict[tuple[str, str], int] = {}
    for i, log in enumerate(logs):
        held = first.setdefault((log["device"], log["source_sha256"]), i)
        if held != i:
            raise InputError(f"logs[{i}]", f"has the device and the source of logs[{held}]")


def _check_corrections(records: list[dict[str, Any]], name: str) -> None:
    replaces = {record["id"]: record.get("corrects") for record in records}
    sound: set[str] = set()
    # What a record corrects need not be here: a phone may have sent the original already, or the
    # server may still be waiting for it.
    for i, record in enumerate(records):
        chain: dict[str, None] = {}
        at = record["id"]
        while at is not None and at not in sound:
            if at in chain:
                raise InputError(f"{name}[{i}].corrects", "leads back to the record itself")
            chain[at] = None
            at = replaces.get(at)
        sound.update(chain)


def _check_seq_across(entries: list[dict[str, Any]]) -> None:
    """A device numbers each fix once: no number may appear again in a later entry."""
    taken: dict[str, list[int]] = {}
    for i, entry in enumerate(entries):
        taken.setdefault(entry["device"], []).append(i)
    for places in taken.values():
        if len(places) < 2:
            continue
        seq = np.concatenate([np.array(entries[i]["seq"], dtype=np.int64) for i in places])
        entry_of = np.repeat(places, [len(entries[i]["seq"]) for i in places])
        row_of = np.concatenate([np.arange(len(entries[i]["seq"])) for i in places])
        order = np.argsort(seq, kind="stable")
        again = np.flatnonzero(np.diff(seq[order]) == 0)
        if again.size:
            here, before = order[again[0] + 1], order[again[0]]
            raise InputError(
                f"breadcrumbs[{entry_of[here]}].seq[{row_of[here]}]",
                f"{seq[here]} is also breadcrumbs[{entry_of[before]}].seq[{row_of[before]}]",
            )
