"""Readings by which one stretch took far less, or far more, than its neighbours.

A figure said roughly, or misread by a digit, moves energy from one stretch to the next without
contradicting anything. It is told by what the readings around it leave: between them the energy
follows the expected work, and strays from it no further than the random walk that the energy curve
has between its readings, or than the readings of this drive stray otherwise. Where nobody saw the
speeds the car may have stood by one reading and driven by the next, and what its motion holds lies
in one stretch more. The figures are left as they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ebbline.measure.energy.bounds import EnergyBound, EnergyEvidence
from ebbline.measure.quantity import MAD_TO_SIGMA
from ebbline.records.result import Finding

_FEWEST = 4  # readings since one reset, of which the others can tell that one is odd
_ODD = 2.0  # standard deviations beside what the readings' intervals allow
_LEAST_KWH = 0.03  # what is told must be more than this, and than a share of the stretch
_LEAST_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class Progress:
    """What a drive should have taken by a moment: the expected work, the variance of the random
    walk on top, and by how much the car's motion may hold less or more than the work has it hold.
    """

    work_kwh: float
    walk_var_kwh2: float
    less_kwh: float
    more_kwh: float


@dataclass(frozen=True, slots=True)
class _Off:
    """How far a reading lies outside what its neighbours allow, and how sure that is."""

    bound: EnergyBound
    before: EnergyBound
    after: EnergyBound
    off_kwh: float
    beyond_kwh: float
    sd_kwh: float
    least_work_kwh: float


def odd_readings(evidence: EnergyEvidence, progress: Callable[[float], Progress]) -> list[Finding]:
    """One finding for each reading that its neighbours don't allow; ``progress`` is by a moment."""
    groups: dict[tuple[float, int], list[EnergyBound]] = {}
    for bound in evidence.bounds:
        groups.setdefault((bound.since_s, bound.origin), []).append(bound)
    findings = []
    for bounds in groups.values():
        if len(bounds) < _FEWEST:
            continue
        found = [
            _against_neighbours(before, bound, after, progress)
            for before, bound, after in zip(bounds, bounds[1:], bounds[2:], strict=False)
        ]
        odd = [o for k, o in enumerate(found) if _is_odd(o, _usual(found, k))]
        findings += [_finding(o) for o in odd if not _worse_beside(o, odd)]
    return findings


def _against_neighbours(
    before: EnergyBound,
    bound: EnergyBound,
    after: EnergyBound,
    progress: Callable[[float], Progress],
) -> _Off:
    by = [progress(b.moment.t_s) for b in (before, bound, after)]
    w0, w1, w2 = (p.work_kwh for p in by)
    v0, v1, v2 = (p.walk_var_kwh2 for p in by)
    share = (w1 - w0) / (w2 - w0) if w2 > w0 else 0.5
    low = (1 - share) * before.low_kwh + share * after.low_kwh
    high = (1 - share) * before.high_kwh + share * after.high_kwh
    pace_kwh_per_s = (w2 - w0) / max(after.moment.t_s - before.moment.t_s, 1.0)
    timing_kwh = pace_kwh_per_s * math.hypot(bound.moment.sd_s, before.moment.sd_s)
    walk_kwh2 = (v1 - v0) * (v2 - v1) / (v2 - v0) if v2 > v0 else 0.0
    less_kwh = by[1].less_kwh + (1 - share) * by[0].more_kwh + share * by[2].more_kwh
    more_kwh = by[1].more_kwh + (1 - share) * by[0].less_kwh + share * by[2].less_kwh
    noise_kwh = math.hypot(bound.noise_kwh, before.noise_kwh, after.noise_kwh)
    return _Off(
        bound=bound,
        before=before,
        after=after,
        off_kwh=(bound.low_kwh + bound.high_kwh - low - high) / 2,
        beyond_kwh=max(bound.low_kwh - high - more_kwh, low - less_kwh - bound.high_kwh, 0.0),
        sd_kwh=max(math.hypot(math.sqrt(max(walk_kwh2, 0.0)), timing_kwh, noise_kwh), 1e-3),
        least_work_kwh=min(w1 - w0, w2 - w1),
    )


def _usual(found: list[_Off], k: int) -> float:
    """By how many standard deviations readings are off elsewhere: a drive that strays everywhere
    makes no single one odd. The two beside it are off with it, and don't count.
    """
    elsewhere = [abs(o.off_kwh) / o.sd_kwh for i, o in enumerate(found) if abs(i - k) > 1]
    return max(MAD_TO_SIGMA * float(np.median(elsewhere)), 1.0) if elsewhere else 1.0


def _is_odd(off: _Off, usual: float) -> bool:
    telling = off.beyond_kwh > _ODD * usual * off.sd_kwh
    return telling and off.beyond_kwh > max(_LEAST_KWH, _LEAST_SHARE * off.least_work_kwh)


def _worse_beside(off: _Off, odd: list[_Off]) -> bool:
    """Whether a neighbour is further off: it then makes this one look odd too."""
    beside = {off.before.reading_id, off.after.reading_id}
    return any(o.bound.reading_id in beside and o.beyond_kwh > off.beyond_kwh for o in odd)


def _finding(off: _Off) -> Finding:
    less, more = ("before", "after") if off.off_kwh < 0 else ("after", "before")
    return Finding(
        "doubt",
        "odd_consumption",
        f"By {off.bound.named()} the stretch {less} it took {abs(off.off_kwh):.2f} kWh less, and "
        f"the one {more} it as much more, than the readings around it and the way driven make "
        f"likely: more than all of them are unsure by. Check it; if it was said roughly, mark it "
        f"\u201cabout\u201d.",
        f"reading {off.bound.reading_id}",
    )
