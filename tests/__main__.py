"""Run every check of the project: ``python -m tests [arguments for pytest]``.

``python -m tests quick`` leaves out what needs a browser, PostgreSQL, a server's process or seconds
of work, and answers within two minutes.

What only reads the code (ruff, mypy and the like) runs beside pytest and is told after it.

Installs what is missing besides Python packages (Chromium, WebKit, PostgreSQL, Poppler) where the
system's own package manager can, and fails where it can't: nothing is skipped. WebKit's tests can
be left out by name, with ``--ignore=tests/webkit``.
"""

from __future__ import annotations

import os
import platform
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import IO

ROOT = Path(__file__).resolve().parent.parent
QUICK = sys.argv[1:2] == ["quick"]
sys.path.insert(0, str(ROOT / "tests"))

from lifeline import Program  # noqa: E402
from programs import (  # noqa: E402
    HEADLESS_SHELL,
    NO_CHROMIUM,
    NO_POPPLER,
    NO_POSTGRESQL,
    NO_WEBKIT,
    WEBKIT_PACKAGES,
    find_chromium,
    find_poppler,
    find_postgresql,
    find_webkit,
)

APT_NAMES = {
    "chromium": ["chromium"],
    "postgresql": ["postgresql"],
    "poppler": ["poppler-utils"],
    "webkit": ["--no-install-recommends", *WEBKIT_PACKAGES],  # a desktop's worth otherwise
}
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
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # each process would compile all anew
    reading = {name: Reading(name, command) for name, command in _readings()}
    passed = {"pytest": _passes("pytest", _pytest())}
    passed |= {name: check.passes() for name, check in reading.items()}
    failed = [name for name, has in passed.items() if not has]
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
    if _wants_webkit() and find_webkit() is None:
        missing.append("webkit")
    if missing:
        for command in _install_commands(missing):
            print("$", " ".join(command), flush=True)
            subprocess.run(command, check=False)
    if shutil.which(HEADLESS_SHELL) is None and _apt_offers(HEADLESS_SHELL):
        command = [*_apt_get("-n"), "install", "-y", HEADLESS_SHELL]
        print("$", " ".join(command), flush=True)
        subprocess.run(command, check=False)
    if find_chromium() is None:
        return NO_CHROMIUM
    if find_postgresql() is None and "EBBLINE_TEST_POSTGRES_URL" not in os.environ:
        return NO_POSTGRESQL
    if find_poppler() is None:
        return NO_POPPLER
    return NO_WEBKIT if _wants_webkit() and find_webkit() is None else None


def _wants_webkit() -> bool:
    return "--ignore=tests/webkit" not in sys.argv


def _install_commands(missing: list[str]) -> list[list[str]]:
    if shutil.which("apt-get"):
        installs = [[*_apt_get(), "install", "-y", *APT_NAMES[name]] for name in missing]
        return [[*_apt_get(), "update"], *installs]
    if platform.system() == "Darwin" and shutil.which("brew"):
        return [["brew", "install", BREW_NAMES[name]] for name in missing if name in BREW_NAMES]
    return []


def _apt_get(*sudo_options: str) -> list[str]:
    as_root = [] if os.geteuid() == 0 else ["sudo", *sudo_options]
    return [*as_root, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq"]


def _apt_offers(name: str) -> bool:
    if shutil.which("apt-cache") is None:
        return False
    found = subprocess.run(["apt-cache", "show", name], capture_output=True, check=False)
    return found.returncode == 0


def _readings() -> list[tuple[str, list[str]]]:
    """Name and command of each check that only reads; the types of pwa/ need Node."""
    here = Path(sys.executable).parent
    checks = [
        ("ruff", [str(here / "ruff"), "check", "."]),
        ("format", [str(here / "ruff"), "format", "--check", "."]),
        ("layers", [str(here / "lint-imports")]),
        ("mypy", [str(here / "mypy")]),
    ]
    if shutil.which("npm"):
        checks.append(("types", ["npm", "--prefix", ".ci", "run", "--silent", "types"]))
    return checks


def _pytest() -> list[str]:
    # Four at a time, the slow ones first: the browser's tests wait as well as work, and more would
    # get in the way of those that measure.
    processes = "2" if QUICK else "4"  # without browsers nothing waits
    several = ["-n", processes, "--dist", "loadfile", "--no-loadscope-reorder"]
    together = several if (os.cpu_count() or 1) > 1 else []
    asked = ["--quick", *sys.argv[2:]] if QUICK else sys.argv[1:]
    return [sys.executable, "-m", "pytest", *together, *asked]


class Reading:
    """A check that runs beside pytest; what it says is shown when asked whether it passes."""

    def __init__(self, name: str, command: list[str]) -> None:
        self._head = f"\n--- {name}: {' '.join(command)}"
        self._name = name
        self._output: IO[bytes] = tempfile.TemporaryFile()
        self._program = Program(command, cwd=ROOT, stdout=self._output, stderr=self._output)

    def passes(self) -> bool:
        passed = self._program.wait() == 0
        self._output.seek(0)
        print(self._head, self._output.read().decode(errors="replace").strip(), sep="\n")
        print(f"--- {self._name} {'passed' if passed else 'FAILED'}", flush=True)
        self._output.close()
        return passed


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
