"""Sessions grouped by car: what all of one car's sessions together say of its reserve.

The sessions of one car share what is particular to the car, so the models see one figure a car. A
session that shut down before zero bounds it: the reserve was less than nothing, and where the
display still showed so many per cent, about so much of the pack less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from ebbline.compare.doubt import variance_of
from ebbline.compare.random_effects import Observed
from ebbline.records.arrays import FloatArray
from ebbline.records.comparison import Drive, Figure
from ebbline.records.result import Bounds, Quantity

_LEAST_VAR = 1e-6  # kWh²: no reserve is known to better than 1 Wh


@dataclass(frozen=True, slots=True)
class Counted:
    """A session with what its reserve is by the zero and the end that the comparison takes."""

    drive: Drive
    reserve_m: Figure
    reserve_kwh: Figure


@dataclass(frozen=True, slots=True, eq=False)
class Cars:
    """n cars in the order in which they first appear; ``members`` are the sessions of each."""

    members: tuple[tuple[Counted, ...], ...]
    usable_kwh: FloatArray
    usable_var: FloatArray
    observed: Observed

    @property
    def n(self) -> int:
        """How many they are."""
        return len(self.members)

    def vehicle(self, k: int) -> str:
        """What people call one of them."""
        return self.members[k][0].drive.vehicle

    def without(self, k: int) -> Cars:
        """All but one."""
        chosen = np.arange(self.n) != k
        return Cars(
            self.members[:k] + self.members[k + 1 :],
            self.usable_kwh[chosen],
            self.usable_var[chosen],
            self.observed.only(chosen),
        )


def reserve_before_zero(drive: Drive) -> Bounds:
    """What is known of the reserve of a car that shut down before zero, kWh.

    A display of s % stands for more than s - 1 and less than s + 1, whichever way it rounds. What
    was left at zero is less than nothing by so much of the usable energy, if the display is right
    about its last steps; that is not said as a figure but as bounds.
    """
    usable, soc = drive.usable_kwh, drive.last_soc_pct
    if usable is None or soc is None:
        return Bounds(None, None, 0.0)
    return Bounds(None, -(soc + 1) / 100 * usable.high, -max(soc - 1, 0.0) / 100 * usable.low)


def by_car(sessions: Sequence[Counted]) -> tuple[tuple[Counted, ...], ...]:
    """Sessions by car, each car's in order of their start."""
    groups: dict[str, list[Counted]] = {}
    for session in sessions:
        groups.setdefault(session.drive.car, []).append(session)
    return tuple(
        tuple(sorted(group, key=lambda session: session.drive.started_ms or 0))
        for group in groups.values()
    )


def cars_of(sessions: Sequence[Counted]) -> Cars:
    """Cars from sessions whose reserve and pack are known, or at least bounds of the reserve."""
    members = by_car(sessions)
    run_var = run_variance(members)
    rows = [_row(group, run_var) for group in members]
    value, var, low, high = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    packs = [_pack(group) for group in members]
    usable_kwh, usable_var = (np.array(column) for column in zip(*packs, strict=True))
    return Cars(members, usable_kwh, usable_var, Observed(value, var, low, high, run_var))


def run_variance(members: Sequence[Sequence[Counted]]) -> float:
    """How much one car's reserve varies between sessions beyond what each is unsure by, kWh².

    The variance w at which Σ (y - ȳ)²/(v + w) over the repeats is what it is expected to be, their
    number less that of their cars (Paule and Mandel, Journal of Research of the National Bureau of
    Standards 87 (1982), 377-385, over all cars at once; from memory). Nothing where no car was
    driven twice: it is then a part of what cars differ by.
    """
    groups = [_measured(group) for group in members if len(_measured(group)[0]) > 1]
    freedom = sum(values.size - 1 for values, _ in groups)

    def excess(run_var: float) -> float:
        return sum(_misfit(values, var + run_var) for values, var in groups) - freedom

    if not groups or excess(0.0) <= 0:
        return 0.0
    most = float(max(np.ptp(values) for values, _ in groups)) ** 2 + 1e-9
    while excess(most) > 0:
        most *= 2
    return float(brentq(excess, 0.0, most))


def _misfit(values: FloatArray, var: FloatArray) -> float:
    mean = float(np.sum(values / var) / np.sum(1 / var))
    return float(np.sum((values - mean) ** 2 / var))


def _measured(group: Sequence[Counted]) -> tuple[FloatArray, FloatArray]:
    told = [session.reserve_kwh for session in group if isinstance(session.reserve_kwh, Quantity)]
    var = np.array([variance_of(q) for q in told])
    return np.array([q.value for q in told]), np.maximum(var, _LEAST_VAR)


def _row(group: Sequence[Counted], run_var: float) -> tuple[float, float, float, float]:
    """Mean, its variance and bounds of one car's reserve."""
    values, var = _measured(group)
    var = var + run_var
    bounds = [session.reserve_kwh for session in group if isinstance(session.reserve_kwh, Bounds)]
    low = max((b.low for b in bounds if b.low is not None), default=-np.inf)
    high = min((b.high for b in bounds if b.high is not None), default=np.inf)
    if low >= high:  # two early ends that no one reserve explains: what holds for both of them
        low = min(b.low for b in bounds if b.low is not None)
        high = max(b.high for b in bounds if b.high is not None)
    if not values.size:
        return 0.0, np.inf, low, high
    precision = float(np.sum(1 / var))
    return float(np.sum(values / var)) / precision, 1 / precision, low, high


def _pack(group: Sequence[Counted]) -> tuple[float, float]:
    """Usable energy of one car as its newest session states it, with its variance."""
    usable = next(q for s in reversed(group) if (q := s.drive.usable_kwh) is not None)
    return usable.value, variance_of(usable)
