"""Stretches in which the page was hidden: no positions, no taps, no readings."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
from simulator.drive import Drive
from simulator.receiver import Span

from .setting import Hidden
from .world import at_s

_MOST = 3  # in one session
_APART_S = 60.0
_CRAWLING_MPS = 4.0
_MOVING_MPS = 5.0
_UNTAPPED_S = 3.5  # a tap comes so long after what it reports


def hidden_spans(what: Hidden, drive: Drive, rng: np.random.Generator) -> tuple[Span, ...]:
    """Up to three stretches apart from each other, none over zero, the reset or the end.

    Those must be tapped, and a hidden page takes no taps.
    """
    zero_s, off_s = at_s(drive, "zero_soc"), at_s(drive, "propulsion_off")
    needed = [(0.0, 40.0), (zero_s - 5.0, zero_s + 25.0), (off_s - 5.0, off_s + 3.0)]
    found: list[Span] = []
    for start_s, end_s in _PROPOSED[what](drive, rng):
        clear = all(end_s + _APART_S < a or start_s > b + _APART_S for a, b in found)
        if clear and all(end_s < a or start_s > b for a, b in needed):
            found.append((start_s, end_s))
        if len(found) == _MOST:
            break
    return tuple(sorted(found))


def is_hidden(t_s: float, spans: tuple[Span, ...]) -> bool:
    """Whether nobody could note what happened then."""
    return any(start_s - _UNTAPPED_S < t_s < end_s for start_s, end_s in spans)


def _stands(drive: Drive) -> list[Span]:
    """The stands on the way, not the one before nor the one after."""
    return _spans(drive, drive.v_mps < 0.05)[1:-1]


def _spans(drive: Drive, chosen: np.ndarray) -> list[Span]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(int)))
    return [
        (float(drive.t_s[first]), float(drive.t_s[last - 1]))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    ]


def _lasting(rng: np.random.Generator, least_s: float, most_s: float) -> float:
    """Any length, each doubling as likely."""
    return math.exp(rng.uniform(math.log(least_s), math.log(most_s)))


def _shuffled(spans: list[Span], rng: np.random.Generator) -> list[Span]:
    return [spans[k] for k in rng.permutation(len(spans))]


def _driving(drive: Drive, rng: np.random.Generator) -> Iterator[Span]:
    """From 5 s to ten minutes, any number of laps, at driving speed throughout."""
    for _ in range(60):
        start_s = float(rng.uniform(0, drive.t_s[-1]))
        end_s = start_s + _lasting(rng, 5, 600)
        inside = (drive.t_s >= start_s) & (drive.t_s <= end_s)
        if end_s < drive.t_s[-1] and np.min(drive.v_mps[inside]) > _MOVING_MPS:
            yield start_s, end_s


def _stand(drive: Drive, rng: np.random.Generator) -> Iterator[Span]:
    for start_s, end_s in _shuffled(_stands(drive), rng):
        yield start_s - _lasting(rng, 3, 120), end_s + _lasting(rng, 3, 120)


def _at_rest(drive: Drive, rng: np.random.Generator) -> Iterator[Span]:
    for start_s, end_s in _shuffled(_stands(drive), rng):
        lasting_s = end_s - start_s
        if lasting_s > 12:
            before, after = rng.uniform(0.05, 0.3, 2)
            yield start_s + before * lasting_s, end_s - after * lasting_s


def _coast(drive: Drive, rng: np.random.Generator) -> Iterator[Span]:
    for start_s, end_s in _shuffled(_stands(drive), rng):
        inside_s = start_s + float(rng.uniform(0.2, 0.8)) * (end_s - start_s)
        if rng.random() < 0.5:
            yield start_s - float(rng.uniform(2, 12)), inside_s
        else:
            yield inside_s, end_s + float(rng.uniform(2, 12))


def _crawl(drive: Drive, rng: np.random.Generator) -> Iterator[Span]:
    slow = (drive.v_mps < _CRAWLING_MPS) & (drive.v_mps > 0.3)
    crawls = [span for span in _spans(drive, slow) if span[1] - span[0] > 15]
    for start_s, end_s in _shuffled(crawls, rng):
        from_s, to_s = start_s - _lasting(rng, 3, 60), end_s + _lasting(rng, 3, 60)
        inside = (drive.t_s >= from_s) & (drive.t_s <= to_s)
        if np.min(drive.v_mps[inside]) > 0.05:
            yield from_s, to_s


def _last(drive: Drive, rng: np.random.Generator) -> Iterator[Span]:
    """While it rolls out, and some of standing for good."""
    off_s, still_s = at_s(drive, "propulsion_off"), at_s(drive, "standstill")
    yield off_s + float(rng.uniform(3.1, 8)), still_s + float(rng.uniform(5, 50))


_PROPOSED: dict[Hidden, Callable[[Drive, np.random.Generator], Iterator[Span]]] = {
    "driving": _driving,
    "stand": _stand,
    "at rest": _at_rest,
    "coast": _coast,
    "crawl": _crawl,
    "last": _last,
}
