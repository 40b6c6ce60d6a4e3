"""A finding's message on the session's clock and in the reader's units."""

from __future__ import annotations

import re

from ebbline.records.phrases import Phrase
from ebbline.records.result import Finding
from ebbline.report.figures import NO_BREAK, Units
from ebbline.report.session_clock import SessionClock

_DIGITS = re.compile(r"\d+(?:\.(\d+))?")


def told(finding: Finding, clock: SessionClock, units: Units) -> str:
    """What the finding says; its own words where it tells no figure."""
    if not finding.told:
        return finding.message
    return "".join(_words(phrase, clock, units) for phrase in finding.told)


def _words(phrase: Phrase, clock: SessionClock, units: Units) -> str:
    if phrase.of is None or phrase.value is None:
        return phrase.words
    if phrase.of == "t_ms":
        return clock.time_of_day(phrase.value)
    if phrase.of == "day_ms":
        return f"{clock.local(phrase.value):%Y-%m-%d %H:%M}"
    if units.distance == "km":
        return phrase.words.replace(" ", NO_BREAK)
    if phrase.of == "speed_mps":
        return units.plain("speed", phrase.value, 0)
    return units.plain("distance", phrase.value, _decimals(phrase.words))


def _decimals(words: str) -> int:
    """Of a distance in miles: about as fine as metres or kilometres said it, a hundredth at the
    coarsest.
    """
    found = _DIGITS.search(words)
    own = len(found[1] or "") if found else 0
    return 2 if words.endswith("km") else 3 + own
