"""Two sessions side by side: what differs, and by more than the doubt or not."""

from __future__ import annotations

from ebbline.compare.doubt import difference, holds_zero
from ebbline.records.comparison import DifferingFact, Drive, Pair, PairedFigure
from ebbline.records.result import Quantity


def compare_two(one: Drive, other: Drive) -> Pair:
    """Every headline figure that either session has, the difference and whether they agree, and
    what is stated otherwise of car, day, course and plan. The two count as independent.
    """
    names = dict.fromkeys([*one.figures, *other.figures])
    stated = dict.fromkeys([*one.facts, *other.facts])
    return Pair(
        session_ids=(one.session_id, other.session_id),
        figures=tuple(
            _paired(name, one.figures.get(name), other.figures.get(name)) for name in names
        ),
        differs=tuple(
            DifferingFact(name, one.facts.get(name), other.facts.get(name))
            for name in stated
            if one.facts.get(name) != other.facts.get(name)
        ),
    )


def _paired(name: str, one: Quantity | None, other: Quantity | None) -> PairedFigure:
    if one is None or other is None:
        return PairedFigure(name, one, other, None, None)
    apart = difference(one, other)
    return PairedFigure(name, one, other, apart, holds_zero(apart))
