"""Captions, chapters and a track of data, timed to one camera's film."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import orjson

from ebbline.records.result import Quantity
from ebbline.report.film import Camera
from ebbline.report.moments import Moment, moments
from ebbline.report.shown import short_line
from ebbline.report.subject import Subject
from ebbline.report.webvtt import Cue, webvtt
from ebbline.vocabulary import LANDMARKS, event_name

SHOWN_S, LEAST_S = 6.0, 1.5  # how long a caption stays, and how long at least
BEFORE = "Towards zero"


def captions(subject: Subject, camera: Camera) -> bytes:
    """What happened, as captions: each event with how far past zero it came and what was left."""
    entries = [entry for entry in subject.result.timeline if entry.kind != "film_sync"]
    starts = [camera.film_s(entry.at_ms.value) for entry in entries]
    ends = [*starts[1:], float("inf")]
    cues = [
        Cue(start, max(start + LEAST_S, min(start + SHOWN_S, end)),
            (_first_upper(subject.words(entry)), _place(subject, entry.past_zero_m, entry.left_m),
             short_line(subject) if entry == subject.end_of_reserve else ""))
        for entry, start, end in zip(entries, starts, ends, strict=True)
    ]  # fmt: skip
    return webvtt(subject.title, _note(subject, camera), cues)


def chapters(subject: Subject, camera: Camera) -> bytes:
    """The run's parts as chapters."""
    cues = [Cue(start, end, (name,)) for start, end, name in _chapters(subject, camera)]
    return webvtt(subject.title, _note(subject, camera), cues)


def chapter_list(subject: Subject, camera: Camera) -> bytes:
    """The same as lines of text, to paste below a film: '12:05 Propulsion off'."""
    lines = [
        f"{_short_time(max(start, 0.0))} {name}"
        for start, end, name in _chapters(subject, camera)
        if end > 0
    ]
    return ("\n".join(lines) + "\n").encode()


def data_track(subject: Subject, camera: Camera, per_second: float) -> bytes:
    """A metadata track: JSON for each moment, SI, with the ends of each 95 % interval."""
    step_s = 1 / per_second
    cues = (
        Cue(moment.film_s, moment.film_s + step_s, (orjson.dumps(_data(moment)).decode(),))
        for moment in moments(subject, camera, per_second)
    )
    return webvtt(subject.title, _note(subject, camera), cues, plain=False)


def _data(moment: Moment) -> dict[str, object]:
    return {
        "t_ms": round(moment.at_ms),
        "past_zero_m": _plain(moment.past_zero_m, 1),
        "energy_past_zero_kwh": _plain(moment.energy_past_zero_kwh, 4),
        "speed_mps": _plain(moment.speed_mps, 2),
    }


def _plain(quantity: Quantity | None, digits: int) -> dict[str, float] | None:
    if quantity is None:
        return None
    names = ("value", "low", "high")
    return {name: round(getattr(quantity, name), digits) for name in names}


def _chapters(subject: Subject, camera: Camera) -> list[tuple[float, float, str]]:
    """Start and end in seconds of film, and name; one after the other without gaps."""
    starts: list[tuple[float, str]] = []
    for kind in LANDMARKS:
        entry = subject.entry_of(kind)
        if entry is not None:
            past = "Past zero: " if kind == subject.result.zero.basis else ""
            starts.append((camera.film_s(entry.at_ms.value), past + event_name(kind)))
    starts.sort()
    first_s = 0.0 if not starts or starts[0][0] > 0 else starts[0][0]
    if not starts or starts[0][0] > 0:
        starts.insert(0, (first_s, BEFORE if len(starts) else subject.title))
    last_s = max((camera.film_s(t) for t in _ends_ms(subject)), default=0.0)
    bounds = [*(start for start, _ in starts), max(last_s, starts[-1][0] + LEAST_S)]
    spans = zip(pairwise(bounds), starts, strict=True)
    return [(start, end, name) for (start, end), (_, name) in spans if end > start]


def _ends_ms(subject: Subject) -> Iterator[float]:
    yield from (float(base[-1]) for base in (subject.curves.t_ms, subject.curves.recharge_t_ms)
                if base.size)  # fmt: skip
    yield from (entry.at_ms.value for entry in subject.result.timeline)


def _place(subject: Subject, past: Quantity | None, left: Quantity | None) -> str:
    figure = subject.units.figure("distance", past)
    if past is None or figure is None or past.high < 0:
        return ""
    rest = subject.units.figure("distance", left)
    still = "" if rest is None or left is None or left.value <= 0 else (
        f", {rest.value} {rest.unit} left"
    )  # fmt: skip
    return f"{figure.value} {figure.unit} past zero{still}"


def _note(subject: Subject, camera: Camera) -> str:
    return f"{camera.words}. {subject.engine}, evidence {subject.input_sha256[:16]}"


def _short_time(seconds: float) -> str:
    hours, rest = divmod(int(seconds), 3600)
    minutes, whole = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{whole:02d}" if hours else f"{minutes}:{whole:02d}"


def _first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]
