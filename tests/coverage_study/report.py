"""The study as Markdown."""

from __future__ import annotations

import math
from collections.abc import Iterator

from .setting import Setting
from .tally import LEAST_PCT, MOST_PCT, Coverage, Spread, Tally

_INTRODUCTION = f"""# Accuracy and coverage over simulated sessions

Made by `python -m tests.coverage_study`. Errors: the median of their size, its 95th percentile,
and after the semicolon the mean error.

Distances run from zero to the end of propulsion. 'Reserve' is the result document's figure, whose
ends are taps. The others run between the true moments, without the taps' share: 'track' is
Ebbline's, 'polyline' joins the raw fixes, 'speeds' is the trapezoid of the shown speeds. 'Parked'
is the most that ten parked minutes added. Energy is counted from zero to each event of the drive,
between the true moments too: by Ebbline's curve, and by straight lines between the display's
figures.

Coverage is how often the 95 % interval held the truth; in brackets the 95 % interval of that
share (Wilson; the figures of one session count for as many independent ones as the sessions'
spread allows). Outside {LEAST_PCT:.0f} to {MOST_PCT:.0f} % a figure is marked, with '?' where a
binomial test says that chance may explain it.
"""


def report(tallies: dict[str, Tally], settings: dict[str, Setting]) -> str:
    """All tables."""
    parts = [_INTRODUCTION]
    parts += ["\n".join(table(tallies)) for table in (_distances, _energies, _marked)]
    parts += ["\n".join(_coverage(name, settings[name], t)) for name, t in tallies.items()]
    return "\n\n".join(parts) + "\n"


def _distances(tallies: dict[str, Tally]) -> Iterator[str]:
    yield "## Distance\n"
    yield (
        "| setting | sessions | reserve, % | track, % | polyline, % | speeds, % | parked, m "
        "| within 93–99 % | analysis, s |"
    )
    yield "|---|---:|---:|---:|---:|---:|---:|---:|---:|"
    for name, t in tallies.items():
        given = [c for c in t.coverage if c.count]
        within = sum(LEAST_PCT <= c.pct <= MOST_PCT for c in given)
        errors = " | ".join(_error(s, 3) for s in (t.reserve, t.track, t.polyline, t.speeds))
        parked = f"{t.parked_worst_m:.2f}" if math.isfinite(t.parked_worst_m) else "—"
        yield (
            f"| {name} | {t.sessions} | {errors} | {parked} | {within} of {len(given)} | "
            f"{t.analysis_s:.2f} |"
        )


def _energies(tallies: dict[str, Tally]) -> Iterator[str]:
    yield "## Energy since zero at the events of the drive\n"
    yield "| setting | events | curve, kWh | straight lines, kWh |"
    yield "|---|---:|---:|---:|"
    for name, t in tallies.items():
        yield f"| {name} | {t.energy.count} | {_error(t.energy, 4)} | {_error(t.lines, 4)} |"


def _marked(tallies: dict[str, Tally]) -> Iterator[str]:
    yield f"## Figures outside {LEAST_PCT:.0f} to {MOST_PCT:.0f} %, beyond chance\n"
    yield "| setting | figure | coverage, % | mean width | mark |"
    yield "|---|---|---:|---:|---|"
    for name, t in tallies.items():
        for c in t.coverage:
            if c.mark and not c.mark.endswith("?"):
                yield f"| {name} | {c.figure} | {_share(c)} | {_short(c.width)} | {c.mark} |"


def _coverage(name: str, setting: Setting, t: Tally) -> Iterator[str]:
    yield f"## {name}: {setting.about}\n"
    yield "| figure | intervals | not known | coverage, % | mean error | mean width | mark |"
    yield "|---|---:|---:|---:|---:|---:|---|"
    for c in t.coverage:
        yield (
            f"| {c.figure} | {c.count} | {c.missing} | {_share(c)} | {_short(c.bias)} | "
            f"{_short(c.width)} | {c.mark} |"
        )
    if t.codes:
        told = ", ".join(f"{code} {n}" for code, n in sorted(t.codes.items()))
        yield f"\nFindings, in how many of {t.sessions} sessions: {told}."


def _error(s: Spread, digits: int) -> str:
    if not s.count:
        return "—"
    return f"{s.median_abs:.{digits}f}, {s.p95_abs:.{digits}f}; {s.mean:+.{digits}f}"


def _share(c: Coverage) -> str:
    return f"{c.pct:.1f} ({c.low_pct:.1f}–{c.high_pct:.1f})" if c.count else "—"


def _short(value: float) -> str:
    if not math.isfinite(value):
        return "—"
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:,.0f}"
