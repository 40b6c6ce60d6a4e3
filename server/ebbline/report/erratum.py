"""What to tell readers when what was published turned out otherwise, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from ebbline.report.days import day_words
from ebbline.report.figures import Units
from ebbline.report.told import Account, Change, Reason, Reworded
from ebbline.vocabulary import first_upper

MOST_TOLD = 8  # of figures, and of sayings; nobody reads on
_REASONS: dict[Reason, str] = {
    "engine": "the program that works the figures out was changed",
    "evidence": "evidence was added or corrected",
    "choices": "we changed what is counted or how",
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
    new with its 95 % interval; a line for each car or warning whose figures changed. Of many
    changes those come first, in their order, that all of it is about, then those of single cars
    that moved most beside their uncertainty; the rest is counted. ``accounts``: as published and
    now.
    """
    then, now = accounts
    sentences = [f"On {day_words(published)} we published figures of \u201c{name}\u201d."]
    if reasons:
        sentences.append(f"Since then {_listed([_REASONS[reason] for reason in reasons])}.")
    sentences += map(_saying, reworded[:MOST_TOLD])
    told = sorted(changed, key=_weight)[:MOST_TOLD]
    by_whom: dict[str, list[str]] = {}
    for change in told:
        if change.told.of is None:
            sentences.append(f"{first_upper(_figure(change, units))}.")
        else:
            by_whom.setdefault(change.told.of, []).append(_figure(change, units))
    lines = [f"{of}: {'; '.join(said)}." for of, said in by_whom.items()]
    every = len(changed) + len(reworded)
    rest = every - len(told) - len(reworded[:MOST_TOLD])
    if rest:
        lines.append(
            f"{rest} more changed; all {every} are in the list that goes with this correction."
        )
    if now.text and now.text != then.text:
        lines.append(f"In full it now reads: \u201c{now.text}\u201d")
    lines.append(
        f"All other {now.scope} stand. Values in brackets are where the truth lies 95 times in 100."
    )
    if len(lines) == 1:
        return " ".join([*sentences, *lines])
    return "\n".join([" ".join(sentences), *lines])


def _weight(change: Change) -> tuple[int, float]:
    """Sorts by it: what all of it is about, in its own order, then what moved most."""
    return (0, 0) if change.told.of is None else (1, -change.moved)


def _saying(one: Reworded) -> str:
    if one.old is None:
        return f"Now {one.new}."
    if one.new is None:
        return f"That {one.old} no longer holds."
    return f"Now {one.new}, where we had written that {one.old}."


def _figure(change: Change, units: Units) -> str:
    told = change.told
    words = told.said(units)
    old, new = (units.text(told.dimension, one) for one in (change.old, told.figure))
    if change.old is None:
        return f"{words}, which we had not given, is {new}"
    if told.figure is None:
        return f"{words} can no longer be told; we had given {old}"
    return f"{words} is {new}, not {old}"


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
