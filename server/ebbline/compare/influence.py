"""How the reserve goes with temperature, consumption, age and chemistry: shown, never adjusted for.

Each is added to the mixed model in turn, by itself, so that what it goes with is not the pack's
size. With several tried, one in twenty looks clear by chance; and what goes together need not be
cause and effect.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ebbline.compare.cars import Cars, Counted
from ebbline.compare.random_effects import fit
from ebbline.measure.quantity import scaled
from ebbline.records.arrays import BoolArray, FloatArray
from ebbline.records.comparison import Influence
from ebbline.records.result import Quantity

_SPARE = 2  # cars beyond the coefficients, for an interval that says anything
_CONSUMPTION = "consumption.past_zero_wh_per_km"
_NUMBERS = (
    ("conditions.ambient_c", 10.0, "degC"),
    ("conditions.pack_c", 10.0, "degC"),
    (_CONSUMPTION, 10.0, "Wh/km"),
    ("vehicle.odometer_km", 10_000.0, "km"),
)
_CHEMISTRY = "vehicle.pack.chemistry"


def influences_on(cars: Cars) -> tuple[Influence, ...]:
    """One entry for each quantity, and for each chemistry against the commonest."""
    found = [_of_number(cars, *number) for number in _NUMBERS]
    return (*found, *_of_chemistry(cars))


def _of_number(cars: Cars, of: str, per: float, unit: str) -> Influence:
    told = _by_car(cars, lambda session: _number(session, of))
    known = np.isfinite(told)
    n = int(np.count_nonzero(known))
    if n and np.ptp(told[known]) < per / 10:
        return Influence(of, per, unit, None, None, n, None, None, "it hardly differs among them")
    change, reason = _added(cars, known, told)
    change = scaled(change, per)
    return Influence(of, per, unit, None, None, n, change, _clear(change), reason)


def _of_chemistry(cars: Cars) -> list[Influence]:
    told = [
        next((s.drive.facts.get(_CHEMISTRY) for s in group if s.drive.facts.get(_CHEMISTRY)), None)
        for group in cars.members
    ]
    levels = sorted({str(level) for level in told if level}, key=lambda level: -told.count(level))
    found = []
    for level in levels[1:]:
        known = np.array([which in (level, levels[0]) for which in told])
        change, reason = _added(cars, known, np.array([float(which == level) for which in told]))
        found.append(
            Influence(
                _CHEMISTRY, None, None, level, levels[0], int(np.count_nonzero(known)), change,
                _clear(change), reason,
            )
        )  # fmt: skip
    return found


def _added(cars: Cars, known: BoolArray, column: FloatArray) -> tuple[Quantity | None, str | None]:
    """The coefficient of one more column beside those of the mixed model, on cars that have it."""
    design = np.column_stack([np.ones(cars.n), cars.usable_kwh / np.mean(cars.usable_kwh), column])[
        known
    ]
    n, p = design.shape
    if n < p + _SPARE:
        return None, f"it takes {p + _SPARE} cars of which it is known, and there are {n}"
    if np.linalg.matrix_rank(design, tol=1e-6) < p:
        return None, "it goes with the pack's size among these cars"
    mean = float(np.mean(design[:, 2]))
    design[:, 2] -= mean  # so that far-off zeros don't make columns alike
    var = np.zeros_like(design)
    var[:, 1] = cars.usable_var[known] / np.mean(cars.usable_kwh) ** 2
    return fit(cars.observed.only(known), design, var).coefficient(2), None


def _by_car(cars: Cars, number: Callable[[Counted], float | None]) -> FloatArray:
    """Each car's mean over its sessions (n,), NaN where none tells it."""
    return np.array([_mean([number(session) for session in group]) for group in cars.members])


def _mean(numbers: Sequence[float | None]) -> float:
    told = [number for number in numbers if number is not None]
    return float(np.mean(told)) if told else np.nan


def _number(session: Counted, of: str) -> float | None:
    if of == _CONSUMPTION:
        used = session.drive.figures.get(of)
        return None if used is None else used.value
    stated = session.drive.facts.get(of)
    return float(stated) if isinstance(stated, (int, float)) else None


def _clear(change: Quantity | None) -> bool | None:
    return None if change is None else not change.low <= 0 <= change.high
