"""What to tell readers when published figures turned out otherwise, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from ebbline.records.result import Quantity
from ebbline.report.figures import Dimension, Units

Reason = Literal["engine", "evidence", "choices"]

_REASONS: dict[Reason, str] = {
    "engine": "the program that works the figures out was changed",
    "evidence": "evidence was added or corrected",
    "choices": "what the figures are counted by was chosen otherwise",
}
_OUTCOMES = {
    "past zero": "the car drove past zero",
    "before zero": "the car shut down before zero",
    "no drive": "there was no drive",
}


@dataclass(frozen=True, slots=True)
class Corrected:
    """A figure as published and as it is now; None: not known. ``words`` go inside a sentence."""

    words: str
    dimension: Dimension
    old: Quantity | None
    new: Quantity | None


def erratum(
    name: str,
    published: datetime,
    outcomes: tuple[str | None, str | None],
    corrected: Sequence[Corrected],
    reasons: Sequence[Reason],
    units: Units,
) -> str:
    """The text of a correction: what was published when, why it changed, and each figure old and
    new with its 95 % interval. ``outcomes``: as published and now, as in the list.
    """
    day = f"{published.day} {published:%B %Y}"
    sentences = [f"On {day} we published figures of \u201c{name}\u201d."]
    if reasons:
        sentences.append(f"Since then {_listed([_REASONS[reason] for reason in reasons])}.")
    before, now = outcomes
    if before != now:
        was, is_now = (_OUTCOMES.get(one or "", "nothing tells how it ended") for one in outcomes)
        sentences.append(f"Now {is_now}, where we had written that {was}.")
    sentences += [_sentence(one, units) for one in corrected]
    sentences.append(
        "All other headline figures stand. Values in brackets are where the truth lies 95 times "
        "in 100."
    )
    return " ".join(sentences)


def _sentence(one: Corrected, units: Units) -> str:
    words = one.words[0].upper() + one.words[1:]
    old, new = (units.text(one.dimension, quantity) for quantity in (one.old, one.new))
    if one.old is None:
        return f"{words}, which we had not given, is {new}."
    if one.new is None:
        return f"{words} can no longer be told; we had given {old}."
    return f"{words} is {new}, not {old}."


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
