"""``python -m tests.faults [--runs 200] [--seed 1] [--first 0] [--fault NAME …]``.

A run that went wrong names its own number, such as 100041; ``--seed 1 --first 41 --runs 1`` does it
again.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from .faults import FAULTS
from .report import table
from .running import run_all
from .verdict import Verdict


def main(arguments: Sequence[str] | None = None) -> int:
    """Run, print the table, and fail when anything was lost, doubled or otherwise wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="where to begin in the series")
    parser.add_argument(
        "--fault", nargs="+", choices=list(FAULTS), default=list(FAULTS), metavar="NAME",
        help=f"only these of: {', '.join(FAULTS)}",
    )  # fmt: skip
    asked = parser.parse_args(arguments)
    indices = range(asked.first, asked.first + asked.runs)
    began_s = time.monotonic()
    results: list[tuple[str, Verdict]] = []
    with contextlib.suppress(KeyboardInterrupt):  # what there is by then is told
        for name, seed, verdict in run_all(indices, asked.seed, asked.fault):
            results.append((name, verdict))
            print(f"\r{len(results)} of {asked.runs}", end="", file=sys.stderr, flush=True)
            for what in ("lost", "doubled", "wrong"):
                for one in getattr(verdict, what):
                    print(f"\n{name}, seed {seed}: {what}: {one}", flush=True)
    if results:
        print(f"\n{table(results)}")
    print(f"\n{len(results)} runs in {time.monotonic() - began_s:.0f} s, seed {asked.seed}")
    complete = len(results) == asked.runs
    return 0 if complete and all(verdict.is_good() for _, verdict in results) else 1


if __name__ == "__main__":
    sys.exit(main())
