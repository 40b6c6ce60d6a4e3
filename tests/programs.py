"""The programs besides Python that the tests need: Chromium, WebKit, PostgreSQL, Poppler."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

NO_CHROMIUM = (
    "A Chromium or Chrome browser is needed for these tests. Install it (Debian: 'apt-get install "
    "chromium'; macOS: Google Chrome or Chromium in /Applications), or set EBBLINE_CHROMIUM to "
    "its program."
)
WEBKIT_PACKAGES = ("webkit2gtk-driver", "gir1.2-webkit2-4.1", "python3-gi", "xvfb")
NO_WEBKIT = (
    "WebKitGTK, its driver, its bindings for the system's Python and Xvfb are needed for the tests "
    f"in tests/webkit. Install them (Debian: 'apt-get install {' '.join(WEBKIT_PACKAGES)}'). "
    "Where nobody packages them, as on macOS, leave these tests out by name: "
    "'python -m tests --ignore=tests/webkit'."
)
NO_POSTGRESQL = (
    "PostgreSQL is needed for these tests. Install it (Debian: 'apt-get install postgresql'; "
    "macOS: 'brew install postgresql@17'), or set EBBLINE_TEST_POSTGRES_URL to a server where "
    "databases may be created."
)
NO_POPPLER = (
    "Poppler's pdftoppm and pdftotext are needed for these tests. Install them (Debian: 'apt-get "
    "install poppler-utils'; macOS: 'brew install poppler')."
)

HEADLESS_SHELL = "chromium-headless-shell"


def find_chromium(shell: bool = False) -> Path | None:
    """The browser the tests drive: ``EBBLINE_CHROMIUM``, else one on the machine.

    With ``shell`` Chromium's headless shell where there is one: the same engine, network and
    storage, but no toolbar is drawn around a page that nobody looks at. To open a page and leave it
    a second costs 0.3 s of processor instead of 1.5.
    """
    given = os.environ.get("EBBLINE_CHROMIUM")
    if given:
        return Path(given) if Path(given).exists() else None
    light = shutil.which(HEADLESS_SHELL) if shell else None
    if light:
        return Path(light)
    for name in ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable"):
        if found := shutil.which(name):
            return Path(found)
    for app in ("Chromium", "Google Chrome"):
        program = Path("/Applications") / f"{app}.app/Contents/MacOS" / app
        if program.exists():
            return program
    return None


def find_node() -> Path | None:
    """A Node that takes a ``.js`` file with imports for a module: 20.19, 22.7 or later."""
    found = shutil.which("node")
    if found is None:
        return None
    said = subprocess.run([found, "--version"], capture_output=True, text=True, check=False).stdout
    version = tuple(int(part) for part in re.findall(r"\d+", said)[:2])
    knows = version >= (22, 7) or (20, 19) <= version < (21, 0)
    return Path(found) if knows else None


def find_postgresql() -> Path | None:
    """The folder of initdb and postgres."""
    found = shutil.which("initdb")
    folders = [Path(found).resolve().parent] if found else []
    for root, pattern in (
        ("/usr/lib/postgresql", "*/bin"),
        ("/opt/homebrew/opt", "postgresql*/bin"),
        ("/usr/local/opt", "postgresql*/bin"),
        ("/Applications/Postgres.app/Contents/Versions", "*/bin"),
    ):
        folders += sorted(Path(root).glob(pattern), reverse=True)
    for folder in folders:
        if (folder / "initdb").exists() and (folder / "postgres").exists():
            return folder
    return None


def find_poppler() -> dict[str, Path] | None:
    """Poppler's programs by name, the PDF reader that the report's pages are looked at with."""
    found = {name: shutil.which(name) for name in ("pdftoppm", "pdftotext")}
    programs = {name: Path(path) for name, path in found.items() if path}
    return programs if len(programs) == len(found) else None


def find_webkit() -> dict[str, Path] | None:
    """The driver of WebKitGTK, a Python that has its bindings, and a screen that nobody sees."""
    driver, screen = shutil.which("WebKitWebDriver"), shutil.which("Xvfb")
    python = Path("/usr/bin/python3")  # whose packages the system's are
    if not driver or not screen or not python.exists():
        return None
    bound = "import gi; gi.require_version('Gtk', '3.0'); gi.require_version('WebKit2', '4.1')"
    if subprocess.run([python, "-c", bound], capture_output=True, check=False).returncode:
        return None
    return {"driver": Path(driver), "screen": Path(screen), "python": python}
