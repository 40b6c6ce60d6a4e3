"""Makes README's pictures from the real pages: ``python tests/browser/make_pictures.py``.

Writes .pictures/drive.png and timeline.png, and what is published of a sample: ladder.png and
report.png; with ``--all DIR`` every page in every
theme, to be looked at.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import urllib.request
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from browser.conftest import (  # noqa: E402
    Car,
    ConsoleWatch,
    Phone,
    chromium_arguments,
    chromium_program,
)
from playwright.sync_api import Browser, sync_playwright  # noqa: E402
from server_process import new_server  # noqa: E402

PICTURES = ROOT / ".pictures"


def main() -> None:
    """Start a server with the samples, take the pictures, stop it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--all", type=Path, help="also take every page, into this folder")
    everything: Path | None = parser.parse_args().all
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as player:
        server = new_server(Path(folder) / "server")
        server.start()
        try:
            for sample in sorted((ROOT / "sample_sessions").glob("*.ebbline.json")):
                _import(server.url, sample)
            browser = player.chromium.launch(
                executable_path=chromium_program(), args=chromium_arguments()
            )
            _drive(browser, server.url, "day", 360, 740, PICTURES / "drive.png")
            _timeline(browser, server.url, "day", 1440, 900, PICTURES / "timeline.png")
            _published(server.url)
            if everything:
                _take_all(browser, server.url, everything)
            browser.close()
        finally:
            server.stop()


def _published(url: str) -> None:
    """A picture for a film and the report's first page, of the sample with everything in it."""
    sample = ROOT / "sample_sessions" / "full-run.ebbline.json"
    full = json.loads(sample.read_bytes())["session"]["id"]
    for path, name in (("picture-ladder-16x9-png", "ladder.png"), ("pages/1", "report.png")):
        address = f"{url}/api/sessions/{full}/publish/{path}"
        with urllib.request.urlopen(address) as answer:
            (PICTURES / name).write_bytes(answer.read())


def _import(url: str, sample: Path) -> None:
    request = urllib.request.Request(
        f"{url}/api/sessions/import",
        data=sample.read_bytes(),
        headers={"Content-Type": "application/json"},
    )
    urllib.request.urlopen(request, timeout=60).close()


def _take_all(browser: Browser, url: str, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for theme in ("day", "night", "contrast"):
        _drive(browser, url, theme, 360, 740, folder / f"drive-{theme}.png")
    _drive(browser, url, "day", 740, 360, folder / "drive-landscape.png")
    for theme in ("day", "night"):
        _timeline(browser, url, theme, 1440, 900, folder / f"timeline-{theme}.png")
    _timeline(browser, url, "day", 360, 740, folder / "timeline-phone.png")


def _drive(browser: Browser, url: str, theme: str, width: int, height: int, picture: Path) -> None:
    """A run just past zero."""
    context = browser.new_context(
        viewport={"width": width, "height": height},
        device_scale_factor=2,
        has_touch=True,
        is_mobile=True,
        permissions=["geolocation"],
        geolocation={"latitude": 47.0, "longitude": 8.0, "accuracy": 4.0},
    )
    look = json.dumps({"theme": theme, "sound": False})
    context.add_init_script(
        f"""if (location.protocol === "http:" && !localStorage.getItem("ebbline.capture"))
              localStorage.setItem("ebbline.capture", '{look}');"""
    )
    phone = Phone(context, context.new_page(), url, ConsoleWatch())
    phone.drive("Sample run")
    car = Car(context, phone.page)
    car.roll(1.5, 16.0)
    phone.press("soc_step")
    phone.step_to(1)
    phone.press("zero_soc")
    car.roll(2.5, 16.0)
    phone.note_display({"trip_energy": "12.4"})
    car.roll(4.0, 16.0)
    phone.press("power_limited")
    phone.wait_stored("Power limited")
    phone.page.screenshot(path=picture)
    context.close()


def _timeline(
    browser: Browser, url: str, theme: str, width: int, height: int, picture: Path
) -> None:
    """The full sample run at the desk."""
    with urllib.request.urlopen(f"{url}/api/sessions", timeout=60) as answer:
        sessions = json.load(answer)["sessions"]
    full = next(session for session in sessions if "Full run" in session["title"])
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if theme == "night" else "light",
    )
    page = context.new_page()
    page.goto(f"{url}/desk?session={full['id']}")
    page.wait_for_selector(".session[aria-busy=false]")
    page.wait_for_timeout(2500)
    page.screenshot(path=picture)
    context.close()


if __name__ == "__main__":
    main()
