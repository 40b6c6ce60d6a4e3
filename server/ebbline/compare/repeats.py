"""The same car again: whether it differs from itself by more than the doubt, over time, software
and odometer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from ebbline.compare.cars import Counted, by_car
from ebbline.compare.doubt import difference, holds_zero
from ebbline.measure import quantity
from ebbline.records.comparison import Drive, Figure, Repeat
from ebbline.records.result import Bounds, Quantity

_LEAST_KM = 500.0  # of odometer, for what the reserve changes by 1,000 km to mean anything


def repeats_of(sessions: Sequence[Counted]) -> tuple[Repeat, ...]:
    """Every later session of a car against the car's first."""
    return tuple(_repeat(group[0], later) for group in by_car(sessions) for later in group[1:])


def _repeat(first: Counted, later: Counted) -> Repeat:
    kwh = _difference(first.reserve_kwh, later.reserve_kwh)
    m = _difference(first.reserve_m, later.reserve_m)
    driven_km = _driven_km(first.drive, later.drive)
    agree: dict[Literal["energy", "distance"], bool | None] = {
        "energy": _agrees(first.reserve_kwh, later.reserve_kwh),
        "distance": _agrees(first.reserve_m, later.reserve_m),
    }
    known = set(agree.values())
    apart = tuple(name for name, agrees in agree.items() if agrees is False)
    return Repeat(
        vehicle=first.drive.vehicle,
        session_ids=(first.drive.session_id, later.drive.session_id),
        difference_kwh=kwh,
        difference_m=m,
        agrees=None if known == {None} else not apart,
        apart=apart,
        software=(_software(first.drive), _software(later.drive)),
        odometer_difference_km=driven_km,
        per_1000_km_kwh=quantity.scaled(kwh, 1000 / driven_km)
        if driven_km is not None and driven_km >= _LEAST_KM
        else None,
    )


def _difference(first: Figure, later: Figure) -> Quantity | None:
    if isinstance(first, Quantity) and isinstance(later, Quantity):
        return difference(first, later)
    return None


def _agrees(first: Figure, later: Figure) -> bool | None:
    """Whether nothing tells two figures apart; None where bounds leave that open."""
    if first is None or later is None:
        return None
    if isinstance(first, Quantity) and isinstance(later, Quantity):
        return holds_zero(difference(first, later))
    return None if _overlap(first, later) else False


def _overlap(first: Quantity | Bounds, later: Quantity | Bounds) -> bool:
    def below(one: float | None, other: float | None) -> bool:
        return one is not None and other is not None and one < other

    return not (below(first.high, later.low) or below(later.high, first.low))


def _driven_km(first: Drive, later: Drive) -> float | None:
    before, after = (drive.facts.get("vehicle.odometer_km") for drive in (first, later))
    if isinstance(before, (int, float)) and isinstance(after, (int, float)):
        return float(after - before)
    return None


def _software(drive: Drive) -> str | None:
    told = drive.facts.get("vehicle.software")
    return None if told is None else str(told)
