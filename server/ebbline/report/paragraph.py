"""A paragraph ready to paste below a film or into an article, and what must be said with it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ebbline.records.result import Limit, Quantity, TimelineEntry
from ebbline.report.days import day_words
from ebbline.report.headlines import summary_of, zero_words
from ebbline.report.saying import about, said
from ebbline.report.setting import CAUTIONS, DEPARTURES
from ebbline.report.subject import Subject
from ebbline.vocabulary import event_detail, event_name

INTERVALS = (
    "What stands behind \u201cgive or take\u201d is meant to hold the truth 95 times in 100; "
    "\u201cabout\u201d is a figure rounded for reading."
)
_TIMES = {1: "once", 2: "twice"}
_CLOSED = (
    "It was driven on a closed course. Nobody should try it on a public road: a car that loses "
    "propulsion there endangers people."
)
_NOT_STATED = (
    "The plan doesn\u2019t state that the course was closed: say where it was driven, and that "
    "nobody should try it on a public road."
)


@dataclass(frozen=True, slots=True)
class ToPaste:
    """The paragraph, and sentences that belong beside it wherever it stands."""

    paragraph: str
    said_with: tuple[str, ...]


def to_paste(subject: Subject) -> ToPaste:
    """Both, in the reader's units."""
    return ToPaste(" ".join(_sentences(subject)), tuple(_said_with(subject)))


def paragraph_text(subject: Subject) -> bytes:
    """Both as one text."""
    paste = to_paste(subject)
    listed = "\n".join(f"- {each}" for each in paste.said_with)
    text = f"{paste.paragraph}\n\nTo be said with it:\n{listed}\n"
    return f"{text}\n{subject.engine}, evidence {subject.input_sha256[:16]}\n".encode()


def _sentences(subject: Subject) -> Iterator[str]:
    reserve = subject.result.reserve
    ended = subject.end_of_reserve
    has_reserve = reserve.distance_m is not None or reserve.energy_kwh is not None
    if not has_reserve:
        yield summary_of(subject)
        if ended is None:
            return
    else:
        yield from _past_zero(subject)
    yield from _warned(subject)
    if has_reserve:
        yield from _faded(subject)
        yield from _disconnected(subject)
        yield from _recharged(subject)


def _past_zero(subject: Subject) -> Iterator[str]:
    reserve, units = subject.result.reserve, subject.units
    parts = []
    if reserve.distance_m is not None:
        far = f"drove another {said(units, 'distance', reserve.distance_m)}"
        if reserve.duration_s is not None:
            far += f", in {about(units, 'duration', reserve.duration_s)}"
        parts.append(far)
    if reserve.energy_kwh is not None:
        parts.append(f"used another {said(units, 'energy', reserve.energy_kwh)}")
    end = f", until {_end(reserve.ends_at)}" if subject.end_of_reserve else ""
    yield f"{_when(subject)}after {zero_words(subject)}, the car {', and '.join(parts)}{end}."
    if reserve.share_of_usable_pct is not None:
        share = about(units, "percent", reserve.share_of_usable_pct)
        yield f"That is {share} of the usable energy stated for its battery."


def _end(kind: str | None) -> str:
    if kind == "propulsion_off":
        return "it could no longer drive"
    return f"\u201c{event_name(kind or '').lower()}\u201d"


def _when(subject: Subject) -> str:
    started = subject.started
    if started is None:
        return "In our test, "
    return f"In our test on {day_words(subject.local(started.timestamp() * 1000))}, "


def _warned(subject: Subject) -> Iterator[str]:
    ended = subject.end_of_reserve
    warnings = [
        entry
        for entry in subject.result.timeline
        if entry.kind == "warning" and (ended is None or entry.at_ms.value <= ended.at_ms.value)
    ]
    if not warnings:
        return
    times = _TIMES.get(len(warnings), f"{len(warnings)} times")
    told = _still(subject, warnings[0])
    if len(warnings) > 1:
        told = f"first{told}, last{_still(subject, warnings[-1])}"
    yield f"On the way there it warned {times}: {told.strip()}."


def _still(subject: Subject, warning: TimelineEntry) -> str:
    """What it said, and what then was to come."""
    raw = subject.raw_events.get(warning.event_id, {})
    words = f" with {event_detail({**raw, 'kind': 'warning'})}" if raw else ""
    left = warning.left_m
    if left is None:
        return words
    return f"{words} when {about(subject.units, 'distance', left)} were left"


def _faded(subject: Subject) -> Iterator[str]:
    asked, units = subject.result.held_speed, subject.units
    if asked is not None:
        speed = units.plain("speed", asked.speed_mps, 0)
        for verb, at in (("was last held", asked.last_held),
                         ("could first not be held", asked.first_not_held)):  # fmt: skip
            if at is not None and at.past_zero_m is not None and at.past_zero_m.value > 0:
                where = about(units, "distance", at.past_zero_m)
                yield f"{speed} {verb} {where} past zero."
    past = [each.speed_mps for each in subject.result.limits if each.speed_mps and _is_past(each)]
    if len(past) > 1:
        first, last = (about(units, "speed", reached) for reached in (past[0], past[-1]))
        yield f"With the throttle floored it still reached {first} at first and {last} at the last."


def _is_past(limit: Limit) -> bool:
    return limit.past_zero_m is not None and limit.past_zero_m.value > 0


def _disconnected(subject: Subject) -> Iterator[str]:
    ended, opened = subject.end_of_reserve, subject.entry_of("contactors_open")
    if ended is None or opened is None or opened.at_ms.low <= ended.at_ms.high:
        return
    apart = opened.at_ms.value - ended.at_ms.value
    half = ((opened.at_ms.high - opened.at_ms.low) + (ended.at_ms.high - ended.at_ms.low)) / 2
    after = Quantity(apart / 1000, (apart - half) / 1000, (apart + half) / 1000)
    later = about(subject.units, "duration", after)
    yield f"The battery disconnected itself {later} after the car had lost its drive."


def _recharged(subject: Subject) -> Iterator[str]:
    recharge, balance, units = subject.result.recharge, subject.result.balance, subject.units
    if recharge is None:
        return
    if recharge.trickle_s is not None:
        slow = said(units, "duration", recharge.trickle_s)
        yield f"Plugged in, it charged slowly for {slow}, before it took full power."
    if balance is not None and balance.agrees and balance.recharged_below_zero_kwh is not None:
        back = said(units, "energy", balance.recharged_below_zero_kwh)
        yield (f"What went back in before the display left 0 % agrees with what had been used: "
               f"{back}.")  # fmt: skip


def _said_with(subject: Subject) -> Iterator[str]:
    result = subject.result
    yield _CLOSED if subject.session.course.closed else _NOT_STATED
    yield CAUTIONS[-1]
    yield CAUTIONS[-2]
    if result.reserve.last_end is not None:
        yield "The car was restarted and drove on; where its figures end is said in the report."
    if result.reserve.distance_m is not None or result.reserve.energy_kwh is not None:
        yield INTERVALS
    for place, name in (("reserve.distance_m", "distance"), ("reserve.energy_kwh", "energy")):
        hangs = subject.hangs(place)
        if hangs:
            yield f"The {name} past zero {hangs}."
    for finding in result.findings:
        if finding.severity != "note" or finding.code in DEPARTURES:
            yield subject.told(finding)
