"""The table of a series of runs."""

from __future__ import annotations

from collections.abc import Sequence

from .verdict import Verdict

HEAD = ("fault", "runs", "confirmed", "fixes", "lost", "doubled", "otherwise wrong", "s a run")


def table(results: Sequence[tuple[str, Verdict]]) -> str:
    """One line a fault and one for all, as Markdown."""
    names = list(dict.fromkeys(name for name, _ in results))
    lines = [_line(name, [v for n, v in results if n == name]) for name in names]
    lines.append(_line("all", [verdict for _, verdict in results]))
    return "\n".join(" | ".join(cells) for cells in (HEAD, ["---"] * len(HEAD), *lines))


def _line(name: str, verdicts: Sequence[Verdict]) -> list[str]:
    counts = [
        len(verdicts),
        sum(verdict.confirmed for verdict in verdicts),
        sum(verdict.fixes for verdict in verdicts),
        sum(len(verdict.lost) for verdict in verdicts),
        sum(len(verdict.doubled) for verdict in verdicts),
        sum(len(verdict.wrong) for verdict in verdicts),
    ]
    mean_s = sum(verdict.seconds for verdict in verdicts) / len(verdicts)
    return [name, *map(str, counts), f"{mean_s:.1f}"]
