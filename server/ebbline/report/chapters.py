"""The run's parts as chapters of one camera's film."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from ebbline.report.film import Camera, note
from ebbline.report.subject import Subject
from ebbline.report.webvtt import Cue, webvtt
from ebbline.vocabulary import LANDMARKS, event_name

LEAST_S = 10.0  # a shorter one can't be chosen by hand, and film platforms refuse it
BEFORE = "Towards zero"


def chapters(subject: Subject, camera: Camera) -> bytes:
    """One after the other without gaps."""
    return webvtt(subject.title, note(subject, camera), _chapters(subject, camera))


def chapter_list(subject: Subject, camera: Camera) -> bytes:
    """The same as lines of text, to paste below a film: '12:05 Propulsion off'."""
    lines = [
        f"{_short_time(max(cue.from_s, 0.0))} {cue.lines[0]}"
        for cue in _chapters(subject, camera)
        if cue.to_s > 0
    ]
    return ("\n".join(lines) + "\n").encode()


def _chapters(subject: Subject, camera: Camera) -> list[Cue]:
    """What comes sooner than a chapter may end shares it."""
    starts: list[tuple[float, list[str]]] = []
    for start_s, name in _landmarks(subject, camera):
        if starts and start_s - starts[-1][0] < LEAST_S:
            starts[-1][1].append(name)
        else:
            starts.append((start_s, [name]))
    last_s = max((camera.film_s(t_ms) for t_ms in _ends_ms(subject)), default=0.0)
    bounds = [*(start_s for start_s, _ in starts), max(last_s, starts[-1][0] + LEAST_S)]
    spans = zip(pairwise(bounds), starts, strict=True)
    return [Cue(from_s, to_s, ("; ".join(names),)) for (from_s, to_s), (_, names) in spans]


def _landmarks(subject: Subject, camera: Camera) -> list[tuple[float, str]]:
    """Seconds of film and names, the film's own beginning first where it shows it."""
    found: list[tuple[float, str]] = []
    for kind in LANDMARKS:
        entry = subject.entry_of(kind)
        if entry is not None:
            past = "Past zero: " if kind == subject.result.zero.basis else ""
            found.append((camera.film_s(entry.at_ms.value), past + event_name(kind)))
    found.sort()
    if not found:
        return [(0.0, subject.title)]
    first_s, name = found[0]
    if 0 < first_s < LEAST_S:
        return [(0.0, name), *found[1:]]
    return found if first_s <= 0 else [(0.0, BEFORE), *found]


def _ends_ms(subject: Subject) -> Iterator[float]:
    yield from (float(base[-1]) for base in (subject.curves.t_ms, subject.curves.recharge_t_ms)
                if base.size)  # fmt: skip
    yield from (entry.at_ms.value for entry in subject.result.timeline)


def _short_time(seconds: float) -> str:
    hours, rest = divmod(int(seconds), 3600)
    minutes, whole = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{whole:02d}" if hours else f"{minutes}:{whole:02d}"
