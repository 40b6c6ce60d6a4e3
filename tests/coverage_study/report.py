"""The study as Markdown."""

from __future__ import annotations

import math
from collections.abc import Iterator

from .settings import Setting
from .tally import LEAST_PCT, MOST_PCT, Coverage, Tally

_INTRODUCTION = f"""# Accuracy and coverage over simulated sessions

Made by `python -m tests.coverage_study`. Distances run from zero to the end of propulsion: the
median of the error's size and, after the semicolon, the mean error, in %. 'Reserve' is the result
document's figure, whose ends are taps; 'polyline' joins the raw fixes between the same moments.
'Track' and its polyline run between the true moments, without the taps' share. 'Parked' is the
most that ten parked minutes added.

Coverage is how often the 95 % interval held the truth; in brackets the 95 % interval of that
share (Wilson; the figures of one session count for as many independent ones as the sessions'
spread allows). Outside {LEAST_PCT:.0f} to {MOST_PCT:.0f} % a figure is marked, with '?' where
chance may explain it.
"""


def report(tallies: dict[str, Tally], settings: dict[str, Setting]) -> str:
    """All tables."""
    parts = [_INTRODUCTION, "\n".join(_distances(tallies, settings)), "\n".join(_marked(tallies))]
    parts += ["\n".join(_coverage(name, settings[name], t)) for name, t in tallies.items()]
    return "\n\n".join(parts) + "\n"


def _distances(tallies: dict[str, Tally], settings: dict[str, Setting]) -> Iterator[str]:
    yield "## Distance\n"
    yield (
        "| setting | what | sessions | reserve % | polyline % | track % | polyline % | parked m "
        "| within 93–99 % | analysis s |"
    )
    yield "|---|---|---:|---:|---:|---:|---:|---:|---:|---:|"
    for name, t in tallies.items():
        given = [c for c in t.coverage if c.count]
        within = sum(LEAST_PCT <= c.pct <= MOST_PCT for c in given)
        pairs = (t.reserve, t.polyline, t.track, t.true_polyline)
        errors = " | ".join(f"{s.median_abs:.3f}; {s.mean:+.3f}" for s in pairs)
        yield (
            f"| {name} | {settings[name].about} | {t.sessions} | {errors} | "
            f"{t.parked_worst_m:.2f} | {within} of {len(given)} | {t.analysis_s:.2f} |"
        )


def _marked(tallies: dict[str, Tally]) -> Iterator[str]:
    yield "## Figures surely outside 93 to 99 %\n"
    yield "| setting | figure | coverage % | mean width | mark |"
    yield "|---|---|---:|---:|---|"
    for name, t in tallies.items():
        for c in t.coverage:
            if c.mark and not c.mark.endswith("?"):
                yield f"| {name} | {c.figure} | {_share(c)} | {_short(c.width)} | {c.mark} |"


def _coverage(name: str, setting: Setting, t: Tally) -> Iterator[str]:
    yield f"## {name}: {setting.about}\n"
    yield "| figure | intervals | not known | coverage % | mean error | mean width | mark |"
    yield "|---|---:|---:|---:|---:|---:|---|"
    for c in t.coverage:
        yield (
            f"| {c.figure} | {c.count} | {c.missing} | {_share(c)} | {_short(c.bias)} | "
            f"{_short(c.width)} | {c.mark} |"
        )
    if t.codes:
        told = ", ".join(f"{code} {n}" for code, n in sorted(t.codes.items()))
        yield f"\nFindings, in how many of {t.sessions} sessions: {told}."


def _share(c: Coverage) -> str:
    return f"{c.pct:.1f} ({c.low_pct:.1f}–{c.high_pct:.1f})" if c.count else "—"


def _short(value: float) -> str:
    if not math.isfinite(value):
        return "—"
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:,.0f}"
