"""``python -m tests.coverage_study [--sessions 500] [--settings NAME …] [--output FILE.md]``."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from .report import report
from .running import run
from .settings import GROUPS, SETTINGS
from .tally import tally


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print it, or write it to a file."""
    parser = argparse.ArgumentParser(prog="python -m tests.coverage_study", description=__doc__)
    parser.add_argument("--sessions", type=_positive, default=500, help="of each setting")
    parser.add_argument("--settings", nargs="+", choices=[*GROUPS, *SETTINGS], metavar="NAME",
                        default=list(GROUPS), help=_names())  # fmt: skip
    parser.add_argument("--workers", type=_positive, default=2, help="processes at a time")
    parser.add_argument("--output", type=Path, help="a Markdown file; else it is printed")
    asked = parser.parse_args(arguments)
    began_s = time.monotonic()

    def told(done: int) -> None:
        took_s = time.monotonic() - began_s
        print(f"\r{done} of {asked.sessions}, {took_s:.0f} s", end="", file=sys.stderr, flush=True)

    chosen = {
        setting.name: setting
        for name in asked.settings
        for setting in GROUPS.get(name) or (SETTINGS[name],)
    }
    outcomes = run(list(chosen.values()), asked.sessions, asked.workers, told)
    print(file=sys.stderr)
    text = report({name: tally(found) for name, found in outcomes.items()}, chosen)
    if asked.output:
        asked.output.write_text(text, encoding="utf-8")
    else:
        print(text)


def _names() -> str:
    """Every group with its settings, for the help."""
    return "; ".join(
        f"group {group}: {', '.join(setting.name for setting in settings)}"
        for group, settings in GROUPS.items()
    )


def _positive(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError(f"{number} is not positive")
    return number


if __name__ == "__main__":
    main()
