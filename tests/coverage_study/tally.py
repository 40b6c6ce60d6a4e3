"""Many sessions' outcomes as numbers: medians, coverage, and how sure those are."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import binom

from .judging import Judged, Outcome

LEAST_PCT, MOST_PCT = 93.0, 99.0
_BEYOND_CHANCE = 0.025
_Z = 1.959964


@dataclass(frozen=True, slots=True)
class Coverage:
    """How often one figure's interval held the truth, in % with its own 95 % interval.

    ``count`` intervals were given in ``sessions`` sessions and are worth ``independent`` ones;
    ``missing`` figures were not known.
    """

    figure: str
    sessions: int
    count: int
    missing: int
    pct: float
    low_pct: float
    high_pct: float
    width: float
    bias: float
    independent: float

    @property
    def mark(self) -> str:
        """'too narrow' below 93 %, 'too wide' above 99 %; with '?' where chance may explain it.

        By a one-sided binomial test: with a true coverage of 93 (99) % so few (many) of the
        independent intervals would hold once in forty times.
        """
        if LEAST_PCT <= self.pct <= MOST_PCT or not self.count:
            return ""
        tried = round(self.independent)
        held = round(self.pct / 100 * tried)
        if self.pct < LEAST_PCT:
            sure = binom.cdf(held, tried, LEAST_PCT / 100) < _BEYOND_CHANCE
            return "too narrow" if sure else "too narrow?"
        sure = binom.sf(held - 1, tried, MOST_PCT / 100) < _BEYOND_CHANCE
        return "too wide" if sure else "too wide?"


@dataclass(frozen=True, slots=True)
class Spread:
    """An error's size, median and 95th percentile, and its mean, over the ``count`` known ones."""

    median_abs: float
    p95_abs: float
    mean: float
    count: int


@dataclass(frozen=True, slots=True)
class Tally:
    """One setting's figures."""

    sessions: int
    reserve: Spread
    track: Spread
    polyline: Spread
    speeds: Spread
    energy: Spread
    lines: Spread
    parked_worst_m: float
    analysis_s: float
    coverage: tuple[Coverage, ...]
    codes: dict[str, int]


def tally(outcomes: Sequence[Outcome]) -> Tally:
    """Sum up the sessions of one setting; the order of outcomes doesn't matter."""
    outcomes = sorted(outcomes, key=lambda outcome: outcome.number)
    by_figure: dict[str, list[list[Judged]]] = defaultdict(list)
    for outcome in outcomes:
        own: dict[str, list[Judged]] = defaultdict(list)
        for judged in outcome.judged:
            own[judged.figure].append(judged)
        for figure, group in own.items():
            by_figure[figure].append(group)
    return Tally(
        sessions=len(outcomes),
        reserve=spread([outcome.reserve_pct for outcome in outcomes]),
        track=spread([outcome.track_pct for outcome in outcomes]),
        polyline=spread([outcome.polyline_pct for outcome in outcomes]),
        speeds=spread([outcome.speeds_pct for outcome in outcomes]),
        energy=spread([kwh for outcome in outcomes for kwh in outcome.energy_kwh]),
        lines=spread([kwh for outcome in outcomes for kwh in outcome.lines_kwh]),
        parked_worst_m=max(
            (outcome.parked_m for outcome in outcomes if math.isfinite(outcome.parked_m)),
            default=math.nan,
        ),
        analysis_s=float(np.median([outcome.analysis_s for outcome in outcomes])),
        coverage=tuple(covered(figure, groups) for figure, groups in by_figure.items()),
        codes=dict(Counter(code for outcome in outcomes for code in outcome.codes)),
    )


def spread(errors: Sequence[float]) -> Spread:
    """Of the errors that are known."""
    known = np.array([error for error in errors if math.isfinite(error)])
    if known.size == 0:
        return Spread(math.nan, math.nan, math.nan, 0)
    median, p95 = np.percentile(np.abs(known), [50, 95]).tolist()
    return Spread(median, p95, float(np.mean(known)), int(known.size))


def covered(figure: str, groups: Sequence[Sequence[Judged]]) -> Coverage:
    """Coverage of a figure that each session has once or many times, one group a session.

    Figures of one session hang together, so it counts for as many independent ones as the spread
    between sessions says, and for no fewer than one (ratio estimator for clusters, e.g. Cochran,
    Sampling Techniques, ch. 3, from memory). With one figure a session that is the binomial.
    """
    given = [[j for j in group if j.inside is not None] for group in groups]
    given = [group for group in given if group]
    hits = np.array([sum(bool(j.inside) for j in group) for group in given], dtype=float)
    sizes = np.array([len(group) for group in given], dtype=float)
    count = int(sizes.sum())
    missing = sum(len(group) for group in groups) - count
    if not count:
        return Coverage(figure, 0, 0, missing, *[math.nan] * 5, 0.0)
    share = float(hits.sum() / count)
    independent = effective_count(hits, sizes)
    low, high = wilson(share, independent)
    every = [j for group in given for j in group]
    return Coverage(
        figure=figure,
        sessions=len(given),
        count=count,
        missing=missing,
        pct=100 * share,
        low_pct=100 * low,
        high_pct=100 * high,
        width=float(np.mean([j.width for j in every])),
        bias=float(np.mean([j.error for j in every])),
        independent=independent,
    )


def effective_count(hits: np.ndarray, sizes: np.ndarray) -> float:
    """As how many independent figures those of clustered sessions (k,) count."""
    total, sessions = float(sizes.sum()), sizes.size
    share = float(hits.sum()) / total
    if sessions < 2 or share in (0.0, 1.0):
        return float(sessions)
    residual = hits - share * sizes
    variance = sessions / (sessions - 1) * float(np.sum(residual**2)) / total**2
    return float(np.clip(share * (1 - share) / max(variance, 1e-12), sessions, total))


def wilson(share: float, count: float) -> tuple[float, float]:
    """95 % interval of a binomial share (Wilson 1927, from memory), each in [0, 1]."""
    centre = (share + _Z**2 / (2 * count)) / (1 + _Z**2 / count)
    half = (
        _Z / (1 + _Z**2 / count) * math.sqrt(share * (1 - share) / count + _Z**2 / (4 * count**2))
    )
    return max(centre - half, 0.0), min(centre + half, 1.0)
