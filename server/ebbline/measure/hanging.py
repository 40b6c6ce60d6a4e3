"""Which of the headline figures hang on a gap in the positions, so that they can say so themselves.

A figure hangs on gaps where they make most of its uncertainty, and so much of it that it matters;
the gap that is named is the one that makes most of theirs.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.naming import clock_time, lasting
from ebbline.measure.reserve.span import Span
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment
from ebbline.measure.track.track import Track
from ebbline.records.result import Finding, Reserve

_MOST = 0.5  # of the variance
_MATTERS = 0.01  # of the figure, as a standard deviation
_NAMES = {
    "distance.total_m": "The distance driven in all",
    "reserve.distance_m": "The distance past zero",
    "reserve.energy_kwh": "The energy past zero",
}


def hanging_of(run: Run, span: Span, reserve: Reserve) -> list[Finding]:
    """One finding for each gap that headline figures hang on; ``where`` names figures and gap."""
    track = run.track
    if track is None or not track.unseen.passages:
        return []
    hung: dict[int, list[str]] = {}

    def note(figure: str, gap: int | None) -> None:
        if gap is not None:
            hung.setdefault(gap, []).append(figure)

    whole = [Moment(float(track.t_s[0]), 0.0), Moment(float(track.t_s[-1]), 0.0)]
    note("distance.total_m", _distance(run, whole))
    if span.driven and span.zero is not None and span.end is not None:
        ends = [span.zero, span.end.moment]
        if reserve.distance_m is not None:
            note("reserve.distance_m", _distance(run, ends))
        note("reserve.energy_kwh", _energy(run, ends, reserve))
    return [_finding(track, gap, figures) for gap, figures in sorted(hung.items())]


def _depending(figures: list[str]) -> list[str]:
    """The figures and those derived from them."""
    made = list(figures)
    if any(figure.startswith("reserve.") for figure in figures):
        made.append("consumption.past_zero_wh_per_km")
    if "reserve.energy_kwh" in figures:
        made.append("reserve.share_of_usable_pct")
    return made


def _distance(run: Run, ends: list[Moment]) -> int | None:
    """The gap that the distance between two moments hangs on."""
    placed = run.distances(ends)
    if run.track is None or placed is None:
        return None
    found = placed.distances
    in_gaps_var_m2 = np.mean((found.apart_m[:, 1] - found.apart_m[:, 0]) ** 2)
    way_m, sd_m = found.between(0, 1)
    all_var_m2 = sd_m**2 + placed.timing_m[0] ** 2 + placed.timing_m[1] ** 2
    least_var_m2 = max(_MOST * all_var_m2, (_MATTERS * way_m) ** 2)
    if not in_gaps_var_m2 > least_var_m2:  # also where the track doesn't reach
        return None
    at_s = np.array([moment.t_s for moment in ends])
    each_var_m2 = [
        float(np.var(np.diff([known.way_m(float(t_s)) for t_s in at_s], axis=0)))
        for known in run.track.unseen.passages
    ]
    return int(np.argmax(each_var_m2))


def _energy(run: Run, ends: list[Moment], reserve: Reserve) -> int | None:
    """The gap that the energy between two moments hangs on, as far as no readings enclose it."""
    if run.track is None or run.energy is None or reserve.energy_kwh is None:
        return None
    figure = reserve.energy_kwh
    from_s, to_s = (moment.t_s for moment in ends)
    least_var_kwh2 = max(_MOST * quantity.sd_of(figure) ** 2, (_MATTERS * figure.value) ** 2)
    if run.energy.unread_var_kwh2(from_s, to_s) <= least_var_kwh2:
        return None
    each_var_kwh2 = [
        np.diff(
            run.energy.unseen_var_kwh2(
                np.clip([known.gap.from_s, known.gap.from_s + known.gap.lasting_s], from_s, to_s)
            )
        )[0]
        for known in run.track.unseen.passages
    ]
    return int(np.argmax(each_var_kwh2))


def _finding(track: Track, gap: int, figures: list[str]) -> Finding:
    known = track.unseen.passages[gap].gap
    names = [_NAMES[figure] for figure in figures]
    said = " and ".join([names[0], *(name[0].lower() + name[1:] for name in names[1:])])
    return Finding(
        "doubt",
        "hangs_on_gap",
        f"{said} {'hangs' if len(names) == 1 else 'hang'} on a gap of {lasting(known.lasting_s)} "
        f"in the positions from {clock_time(known.from_s)}: the car may have driven on in it, "
        f"stood, or gone another way. What its trip meter showed before and after the gap would "
        f"settle it.",
        ", ".join([*_depending(figures), f"distance.gaps[{gap}]"]),
    )
