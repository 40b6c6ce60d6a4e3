"""What happened, as captions of one camera's film."""

from __future__ import annotations

from ebbline.records.result import Quantity, TimelineEntry
from ebbline.report.film import Camera, note
from ebbline.report.pacing import Spoken, paced
from ebbline.report.shown import short_line
from ebbline.report.subject import Subject
from ebbline.report.subrip import subrip
from ebbline.report.webvtt import Cue, webvtt
from ebbline.vocabulary import first_upper


def captions(subject: Subject, camera: Camera, left: bool = False) -> bytes:
    """WebVTT: each event with how far past zero it came; what was left only when asked for, for it
    gives the end away.
    """
    return webvtt(subject.title, note(subject, camera), _cues(subject, camera, left))


def captions_srt(subject: Subject, camera: Camera, left: bool = False) -> bytes:
    """The same as SubRip text, which cutting programs read."""
    return subrip(_cues(subject, camera, left))


def _cues(subject: Subject, camera: Camera, left: bool) -> list[Cue]:
    told: list[Spoken] = []
    place = ""
    for entry in subject.result.timeline:
        at_s = camera.film_s(entry.at_ms.value)
        if entry.kind == "film_sync" or at_s < 0:
            continue
        before, place = place, _place(subject, entry, left)
        shown = short_line(subject) if entry == subject.end_of_reserve else ""
        figures = (place if place != before else "", shown)  # a car that stands is told of once
        told.append(Spoken(at_s, first_upper(subject.words(entry)), tuple(filter(None, figures))))
    return paced(told)


def _place(subject: Subject, entry: TimelineEntry, left: bool) -> str:
    past = entry.past_zero_m
    if past is None or past.high < 0 or past.value == 0:  # zero itself
        return ""
    rest = entry.left_m if left else None
    still = f", {_short(subject, rest)} left" if rest is not None and rest.value > 0 else ""
    return f"{_short(subject, past)} past zero{still}"


def _short(subject: Subject, distance: Quantity) -> str:
    """As many digits as its doubt allows, but no more than can be heard."""
    figure = subject.units.figure("distance", distance)
    plain = subject.units.plain("distance", distance.value)
    exact = f"{figure.value} {figure.unit}" if figure else plain
    return min(exact, plain, key=len)
