"""What a GPX or CSV file would bring, shown before any of it is stored."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ebbline.exchange.csv_guess import Guess, guess
from ebbline.exchange.csv_mapping import UNITS
from ebbline.exchange.recording import Recording, kind_of
from ebbline.sessions.files.recordings import ImportOptions, read_recording


@dataclass(frozen=True, slots=True)
class Preview:
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


def preview(data: bytes, options: ImportOptions) -> Preview:
    """Read a GPX or CSV file and say what is in it; touches no database.

    Raises:
        InputError: the file or what was stated of it is malformed, with the place.
        TooLargeError: more than we take.
    """
    kind = kind_of(data)
    units = {quantity: list(factors) for quantity, factors in UNITS.items()}
    if kind == "csv" and options.mapping is None:
        proposed = guess(data, options.zone)
        return Preview(kind, [], 0, 0, 0, None, None, [], proposed, units)
    recording = read_recording(data, options)
    first_ms, last_ms = _span_ms(recording)
    return Preview(
        kind=kind,
        devices=recording.devices(),
        fixes=recording.count_fixes(),
        events=len(recording.events),
        log_rows=recording.count_log_rows(),
        from_ms=first_ms,
        to_ms=last_ms,
        notes=recording.notes,
        guess=None,
        units=units,
    )


def _span_ms(recording: Recording) -> tuple[int | None, int | None]:
    columns: list[list[Any]] = [
        entry["t_ms"] for entry in (*recording.breadcrumbs, *recording.logs)
    ]
    columns.append([event["t_ms"] for event in recording.events])
    ends = [edge for column in columns if column for edge in (min(column), max(column))]
    return (min(ends), max(ends)) if ends else (None, None)
