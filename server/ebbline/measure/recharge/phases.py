"""Trickle, rise and full power, as far as the shown power tells them.

With many readings the change points that fit best; with a few, the jump between two of them. How
the power rose is not relied on: the trickle ended somewhere between two readings, and a level of
power is one only where readings in a row agree on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.measure.recharge.shown import Shown
from ebbline.records.arrays import BoolArray, FloatArray

_MOMENTS = 90  # change points tried: readings and quarters between, or so many of them
_SAME_LEVEL = 3.0  # standard deviations
_PARAMETERS = 5  # of two levels, two change points and a scatter
# Common practice, no source: a charger holds its power to a twentieth, and what wakes an empty
# pack is less than so much and less than half of what follows, and over in half an hour.
_UNREST = 0.05
_TRICKLE_MOST_KW = 4.0
_JUMP = 2.0
_TRICKLE_LONGEST_S = 1800.0


@dataclass(frozen=True, slots=True, eq=False)
class Phases:
    """Which of the n readings of power were made on the trickle and which at full power, (n,).

    ``first_after``: index of the first reading after the trickle, n where none is; None where no
    trickle shows. The trickle ended between that reading and the last one on it, if any was made
    on it: ``last_on``.
    """

    trickle: BoolArray
    full: BoolArray
    first_after: int | None

    @property
    def last_on(self) -> int | None:
        """Index of the last reading on the trickle."""
        return int(np.flatnonzero(self.trickle)[-1]) if np.any(self.trickle) else None


def find_phases(power: Shown) -> Phases:
    """What the readings of power say of the two levels and of the rise between them."""
    n = power.t_s.size
    nothing = np.zeros(n, dtype=bool)
    if n == 0:
        return Phases(nothing, nothing, None)
    rise = _by_change_points(power) if n > _PARAMETERS + 1 else None
    if rise is None:
        rise = _by_jump(power)
    if rise is None:
        if _could_all_be_trickle(power):
            return Phases(~nothing, nothing, n)
        return Phases(nothing, _longest_level(power, 0), None)
    last, full_from = rise
    return Phases(_trickle(power, last), _longest_level(power, full_from), last + 1)


def _could_all_be_trickle(power: Shown) -> bool:
    lasted_s = float(power.t_s[-1] - power.t_s[0])
    return float(np.max(power.high)) <= _TRICKLE_MOST_KW and lasted_s < _TRICKLE_LONGEST_S


def jumps(power: Shown) -> BoolArray:
    """Which steps from one reading to the next (n-1,) leave a level: nobody saw the power between.

    Two readings are of one level when they differ by no more than a step of the display and what
    a charger wanders by.
    """
    middle = power.middle
    return np.abs(np.diff(middle)) > _reach(power, np.minimum(middle[1:], middle[:-1]))


def _reach(power: Shown, level_kw: FloatArray) -> FloatArray:
    step_kw = float(np.max(power.high - power.low))
    return np.asarray(1.001 * step_kw + _UNREST * level_kw)


def _trickle(power: Shown, last: int) -> BoolArray:
    """Readings (n,) on the level of the last one before the rise.

    A single one says so only if it is as low as a trickle is: it may have been made on the rise.
    """
    first = last
    jump = jumps(power)
    while first > 0 and not jump[first - 1]:
        first -= 1
    index = np.arange(power.t_s.size)
    alone = first == last and power.middle[last] > _TRICKLE_MOST_KW
    return np.asarray((index >= first) & (index <= last) & (not alone))


def _longest_level(power: Shown, first: int) -> BoolArray:
    """The longest row (n,) of two or more readings from ``first`` on that agree on a level.

    Of equally long ones the highest; none where no two agree.
    """
    middle = power.middle
    best = np.zeros(middle.size, dtype=bool)
    same = np.zeros(middle.size, dtype=bool)
    same[first:-1] = ~jumps(power)[first:]
    for start, end in stretches(same):
        own = np.zeros(middle.size, dtype=bool)
        own[start : end + 2] = True
        # steps too small to be jumps may still climb
        usual = np.median(middle[own])
        own &= np.abs(middle - usual) <= _reach(power, np.full(middle.size, usual))
        size = np.count_nonzero(own)
        best_size = np.count_nonzero(best)
        if size >= 2 and (size > best_size or (size == best_size and usual > np.max(middle[best]))):
            best = own
    return best


def _by_jump(power: Shown) -> tuple[int, int] | None:
    """The greatest rise to over twice as much: the readings before and after it."""
    ratio = power.low[1:] / np.maximum(power.high[:-1], 1e-6)
    if ratio.size == 0 or np.max(ratio) <= _JUMP:
        return None
    last = int(np.argmax(ratio))
    return last, last + 1


def _by_change_points(power: Shown) -> tuple[int, int] | None:
    """The least-squares constant, straight rise, constant; None when one level fits as well.

    Gives the last reading of the first level and the first of the second. All pairs of candidate
    moments are tried, the two levels being solved for each. The added parameters must earn their
    keep by the corrected Akaike criterion (Burnham and Anderson 2002, from memory).
    """
    level = power.middle
    n = level.size
    moment_s = _candidates(power.t_s)
    begin, end = np.triu_indices(moment_s.size, k=1)
    misfit = _misfits(power.t_s, level, moment_s[begin], moment_s[end])
    best = int(np.argmin(misfit))
    rounding = float(np.mean(((power.high - power.low) ** 2) / 12))
    flat = float(np.sum((level - np.mean(level)) ** 2))
    if not np.isfinite(misfit[best]) or (
        _aicc(float(misfit[best]), rounding, n, _PARAMETERS) >= _aicc(flat, rounding, n, 2)
    ):
        return None
    begin_s, full_from_s = float(moment_s[begin[best]]), float(moment_s[end[best]])
    last = _last_of_level(power, int(np.searchsorted(power.t_s, begin_s, side="right")) - 1)
    full_from = int(np.searchsorted(power.t_s, full_from_s))
    if last is None or full_from >= n:
        return None
    return last, full_from


def _last_of_level(power: Shown, last: int) -> int | None:
    """The last reading of the first level, near ``last``; None when there is no first level."""
    level = power.middle
    if last < 0:
        return None
    usual = float(np.median(level[: last + 1]))
    deviation = MAD_TO_SIGMA * float(np.median(np.abs(level[: last + 1] - usual)))
    width = float(np.max((power.high - power.low)[: last + 1]))
    # A level at the edge of a step of the display shows on either side of it.
    reach = 1.001 * width + _SAME_LEVEL * deviation
    while last > 0 and abs(level[last] - usual) > reach:
        last -= 1
    while last + 1 < level.size - 1 and abs(level[last + 1] - usual) <= reach:
        last += 1
    return last


def _candidates(t_s: FloatArray) -> FloatArray:
    """Readings and the quarters between them, thinned evenly when there are many."""
    between = np.linspace(t_s[:-1], t_s[1:], 5)[:-1].T.ravel()
    moment_s = np.concatenate([between, t_s[-1:]])
    if moment_s.size <= _MOMENTS:
        return moment_s
    return np.asarray(moment_s[np.linspace(0, moment_s.size - 1, _MOMENTS).astype(int)])


def _misfits(
    t_s: FloatArray, level: FloatArray, from_s: FloatArray, to_s: FloatArray
) -> FloatArray:
    """Misfit of each of k rises: regression of level (n,) on the rise (k, n); falls don't count."""
    rise = np.clip((t_s - from_s[:, None]) / (to_s - from_s)[:, None], 0.0, 1.0)
    centred = rise - rise.mean(axis=1, keepdims=True)
    power = np.sum(centred**2, axis=1)
    slope = np.divide(
        centred @ (level - level.mean()), power, out=np.zeros(from_s.size), where=power > 1e-9
    )
    low = level.mean() - slope * rise.mean(axis=1)
    misfit = np.sum((level - low[:, None] - slope[:, None] * rise) ** 2, axis=1)
    return np.where(slope > 0, misfit, np.inf)


def _aicc(misfit: float, rounding: float, n: int, parameters: int) -> float:
    """Corrected Akaike criterion; the misfit can't be less than rounding makes it."""
    variance = max(misfit / n, rounding)
    correction = 2 * parameters * (parameters + 1) / (n - parameters - 1)
    return float(n * np.log(variance) + 2.0 * parameters + correction)
