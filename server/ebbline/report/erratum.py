"""What to tell readers when what was published turned out otherwise, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby

from ebbline.report.days import day_words
from ebbline.report.figures import Units
from ebbline.report.told import Account, Change, Reason, Reworded

_REASONS: dict[Reason, str] = {
    "engine": "the program that works the figures out was changed",
    "evidence": "evidence was added or corrected",
    "choices": "what the figures are counted by was chosen otherwise",
}


def erratum(
    name: str,
    published: datetime,
    accounts: tuple[Account, Account],
    changed: Sequence[Change],
    reworded: Sequence[Reworded],
    reasons: Sequence[Reason],
    units: Units,
) -> str:
    """The text of a correction: what was published when, why it changed, and each figure old and
    new with its 95 % interval; a line for each car or warning whose figures changed. ``accounts``:
    as published and now.
    """
    then, now = accounts
    sentences = [f"On {day_words(published)} we published figures of \u201c{name}\u201d."]
    if reasons:
        sentences.append(f"Since then {_listed([_REASONS[reason] for reason in reasons])}.")
    sentences += map(_saying, reworded)
    lines = []
    for of, some in groupby(changed, key=lambda change: change.told.of):
        said = [_figure(change, units) for change in some]
        if of is None:
            sentences += (f"{_first_upper(one)}." for one in said)
        else:
            lines.append(f"{of}: {'; '.join(said)}.")
    if now.text and now.text != then.text:
        lines.append(f"In full it now reads: \u201c{now.text}\u201d")
    lines.append(
        f"All other {now.scope} stand. Values in brackets are where the truth lies 95 times in 100."
    )
    if len(lines) == 1:
        return " ".join([*sentences, *lines])
    return "\n".join([" ".join(sentences), *lines])


def _saying(one: Reworded) -> str:
    if one.old is None:
        return f"Now {one.new}."
    if one.new is None:
        return f"That {one.old} no longer holds."
    return f"Now {one.new}, where we had written that {one.old}."


def _figure(change: Change, units: Units) -> str:
    told = change.told
    old, new = (units.text(told.dimension, one) for one in (change.old, told.figure))
    if change.old is None:
        return f"{told.words}, which we had not given, is {new}"
    if told.figure is None:
        return f"{told.words} can no longer be told; we had given {old}"
    return f"{told.words} is {new}, not {old}"


def _first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
