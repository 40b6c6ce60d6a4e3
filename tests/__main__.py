"""Run every check of the project: ``python -m tests [arguments for pytest]``.

``python -m tests quick`` leaves out what needs a browser, PostgreSQL, a server's process or seconds
of work, and answers within two minutes.

Installs what is missing besides Python packages (Chromium, PostgreSQL, Poppler) where the system's
own package manager can, and fails where it can't: nothing is skipped.
"""

from __future__ import annotations

import os
import platform
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
QUICK = sys.argv[1:2] == ["quick"]
sys.path.insert(0, str(ROOT / "tests"))

from lifeline import Program  # noqa: E402
from programs import (  # noqa: E402
    NO_CHROMIUM,
    NO_POPPLER,
    NO_POSTGRESQL,
    find_chromium,
    find_poppler,
    find_postgresql,
)

APT_NAMES = {"chromium": "chromium", "postgresql": "postgresql", "poppler": "poppler-utils"}
BREW_NAMES = {
    "chromium": "google-chrome",
    "postgresql": "postgresql@17",
    "poppler": "poppler",
}


def main() -> int:
    """Provide, then check; the exit status says whether everything passed."""
    problem = None if QUICK else _provide()
    if problem:
        print(problem, file=sys.stderr)
        return 1
    failed = [name for name, command in _checks() if not _passes(name, command)]
    if failed:
        print(f"\nfailed: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


def _provide() -> str | None:
    """Install what is missing; says what can't be had."""
    missing = []
    if find_chromium() is None:
        missing.append("chromium")
    if find_postgresql() is None and "EBBLINE_TEST_POSTGRES_URL" not in os.environ:
        missing.append("postgresql")
    if find_poppler() is None:
        missing.append("poppler")
    if missing:
        for command in _install_commands(missing):
            print("$", " ".join(command), flush=True)
            subprocess.run(command, check=False)
    if find_chromium() is None:
        return NO_CHROMIUM
    if find_postgresql() is None and "EBBLINE_TEST_POSTGRES_URL" not in os.environ:
        return NO_POSTGRESQL
    return NO_POPPLER if find_poppler() is None else None


def _install_commands(missing: list[str]) -> list[list[str]]:
    if shutil.which("apt-get"):
        as_root = [] if os.geteuid() == 0 else ["sudo"]
        quiet = [*as_root, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq"]
        names = [APT_NAMES[name] for name in missing]
        return [[*quiet, "update"], [*quiet, "install", "-y", *names]]
    if platform.system() == "Darwin" and shutil.which("brew"):
        return [["brew", "install", BREW_NAMES[name]] for name in missing]
    return []


def _checks() -> list[tuple[str, list[str]]]:
    """Name and command of each check, in order; the types of pwa/ need Node and run with it."""
    here = Path(sys.executable).parent
    checks = [
        ("ruff", [str(here / "ruff"), "check", "."]),
        ("format", [str(here / "ruff"), "format", "--check", "."]),
        ("mypy", [str(here / "mypy")]),
        ("layers", [str(here / "lint-imports")]),
    ]
    if shutil.which("npm"):
        types = ["npm", "--prefix", ".ci", "run", "--silent", "types"]
        checks += [("npm", ["npm", "--prefix", ".ci", "ci", "--silent"]), ("types", types)]
    # Three at a time, each file in one process: the browser's tests wait more than they work, and
    # more would get in the way of those that measure.
    together = ["-n", "3", "--dist", "loadfile"] if (os.cpu_count() or 1) > 1 else []
    asked = ["--quick", *sys.argv[2:]] if QUICK else sys.argv[1:]
    checks.append(("pytest", [sys.executable, "-m", "pytest", *together, *asked]))
    return checks


def _passes(name: str, command: list[str]) -> bool:
    started = time.monotonic()
    print(f"\n--- {name}: {' '.join(command)}", flush=True)
    check = Program(command, cwd=ROOT)
    try:
        passed = check.wait() == 0
    except KeyboardInterrupt:
        check.stop(by=signal.SIGINT)
        raise
    print(f"--- {name} {'passed' if passed else 'FAILED'}, {time.monotonic() - started:.0f} s")
    return passed


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
