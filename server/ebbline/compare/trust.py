"""How far a driver can trust a warning: what was left at it, over cars."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ebbline.compare.tolerance import lower_bound, median_ranks, share_above_least
from ebbline.records.comparison import Drive, Figure, ToleranceBound, TrustInWarning
from ebbline.records.result import Bounds, Quantity

SHARE, CONFIDENCE = 0.95, 0.90
_FIGURES = ("left_m", "left_kwh", "left_s")


def trust_in_warnings(drives: Sequence[Drive]) -> tuple[TrustInWarning, ...]:
    """One entry for each class of warning that was noted, as drivers meet them."""
    classes = dict.fromkeys(warning.warning_class for drive in drives for warning in drive.warnings)
    found = [_of_class(class_, drives) for class_ in classes]
    return tuple(sorted(found, key=_earliest_first))


def _earliest_first(entry: TrustInWarning) -> tuple[bool, float]:
    left = entry.median_left_m
    value = None if left is None else left.value
    return value is None, -(value or 0.0)


def _of_class(class_: str, drives: Sequence[Drive]) -> TrustInWarning:
    least = {name: _least_by_car(class_, name, drives) for name in _FIGURES}
    cars = {drive.car for drive in drives if any(w.warning_class == class_ for w in drive.warnings)}
    in_order = {name: [left for left, _ in told] for name, told in least.items()}
    bounds = {
        name: lower_bound(np.array([q.value for q in figures]), SHARE, CONFIDENCE)
        for name, figures in in_order.items()
    }
    told = [bound for bound in bounds.values() if bound.value is not None]
    untold = [bound for bound in bounds.values() if bound.value is None]
    return TrustInWarning(
        warning_class=class_,
        n=len(cars),
        # of distance, else of energy, else of time
        least_vehicle=next((told[0][1] for told in least.values() if told), None),
        least_left_m=_first(in_order["left_m"]),
        median_left_m=_median(in_order["left_m"]),
        least_left_kwh=_first(in_order["left_kwh"]),
        median_left_kwh=_median(in_order["left_kwh"]),
        least_left_s=_first(in_order["left_s"]),
        median_left_s=_median(in_order["left_s"]),
        bound=ToleranceBound(
            share=SHARE,
            confidence=CONFIDENCE,
            left_m=bounds["left_m"].value,
            left_kwh=bounds["left_kwh"].value,
            left_s=bounds["left_s"].value,
            method=told[0].method if told else None,
            reason=untold[0].reason if untold else None,
            least_share=share_above_least(max(len(cars), 1), CONFIDENCE),
        ),
    )


def _least_by_car(class_: str, name: str, drives: Sequence[Drive]) -> list[tuple[Quantity, str]]:
    """The least that each car had left at the first warning of the class in any of its drives, and
    what people call the car; the car with the least first.
    """
    by_car: dict[str, tuple[Quantity, str]] = {}
    for drive in drives:
        for warning in drive.warnings:
            left: Quantity | None = getattr(warning, name)
            if warning.warning_class != class_ or left is None:
                continue
            held = by_car.get(drive.car)
            if held is None or left.value < held[0].value:
                by_car[drive.car] = left, drive.vehicle
    return sorted(by_car.values(), key=lambda told: told[0].value)


def _first(in_order: Sequence[Quantity]) -> Quantity | None:
    return in_order[0] if in_order else None


def _median(in_order: Sequence[Quantity]) -> Figure:
    """The middle one, with the interval of all cars' median where so many cars have one: by order
    statistics, from the low end of one car's figure to the high end of another's.
    """
    if not in_order:
        return None
    median = float(np.median([q.value for q in in_order]))
    ranks = median_ranks(len(in_order))
    if ranks is None:
        return Bounds(median, None, None)
    low = min(q.low for q in in_order[ranks[0] - 1 :])
    high = max(q.high for q in in_order[: ranks[1]])
    return Quantity(median, min(low, median), max(high, median))
