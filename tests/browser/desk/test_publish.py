"""Publishing at the desk: everything a person can save, each held to an outside reader."""

from __future__ import annotations

import io
import json
import subprocess
import urllib.request
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import webvtt
from axe_playwright_python.sync_playwright import Axe
from browser.conftest import ConsoleWatch, until
from browser.desk.conftest import FULL_RUN, SAMPLES, Desk, text_of
from exchange.gpx_rules import broken_rules
from justhtml import JustHTML
from PIL import Image
from programs import NO_POPPLER, find_poppler

ZERO_MS = 1772444941539


def film_marks(device: str) -> list[dict[str, Any]]:
    return [
        {"id": f"mark-{camera}", "device": device, "t_ms": ZERO_MS + after_ms, "text": camera,
         "kind": "film_sync", "value": second, "unit": "s"}
        for camera, after_ms, second in (("dash", -60_000, 30.0), ("chase car", -3_000, 500.0))
    ]  # fmt: skip


@pytest.fixture
def filmed(desk: Desk) -> str:
    document = json.loads((SAMPLES / "full-run.ebbline.json").read_bytes())
    document["events"] += film_marks(document["events"][0]["device"])
    return bring_in(desk, document)


def bring_in(desk: Desk, document: dict[str, Any]) -> str:
    request = urllib.request.Request(
        f"{desk.url}/api/sessions/import",
        data=json.dumps(document).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        return str(json.load(answer)["id"])


def open_publish(desk: Desk, session_id: str) -> None:
    desk.open_session(session_id)
    desk.page.locator("#publish").scroll_into_view_if_needed()
    desk.page.locator(".publish[aria-busy=false]").wait_for()
    desk.page.locator(".preview-sheet img").wait_for()


def check_everything(packed: bytes, folder: Path) -> None:
    """Each piece by a program that is not ours."""
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        archive.extractall(folder)
    JustHTML((folder / "report.html").read_text("utf-8"), strict=True, sanitize=False)
    assert broken_rules((folder / "track.gpx").read_text("utf-8")) == []
    table = pd.read_csv(folder / "curves.csv")
    assert {"t_ms", "past_zero_m", "energy_past_zero_kwh", "speed_mps"} <= set(table)
    assert len(table) > 2000
    for film in sorted(folder.glob("film/*/*.vtt")):
        assert len(webvtt.read(film)) > 3, film
    pictures = sorted(folder.glob("pictures/*.png"))
    assert len(pictures) == 10
    for picture in pictures:
        with Image.open(picture) as image:
            assert image.size in {(1920, 1080), (1440, 1440)}
    programs = find_poppler()
    if programs is None:
        pytest.fail(NO_POPPLER)
    subprocess.run(
        [programs["pdftoppm"], "-r", "40", "-png", folder / "report.pdf", folder / "page"],
        check=True,
    )
    pages = sorted(folder.glob("page*.png"))
    assert len(pages) > 3
    assert all(Image.open(page).convert("L").getextrema()[0] < 150 for page in pages)  # type: ignore[operator]


def test_everything_is_saved_and_outside_readers_take_it(
    desk: Desk, filmed: str, tmp_path: Path, console: ConsoleWatch
):
    open_publish(desk, filmed)
    place = desk.page.locator(".preview-place")
    assert text_of(place).startswith("Page 1 of ")
    desk.page.get_by_role("button", name="Next page").press("Enter")
    until(
        desk.page, "() => document.querySelector('.preview-place').textContent.startsWith('Page 2')"
    )
    until(desk.page, "() => document.querySelector('.preview-sheet img').naturalWidth > 800")

    with desk.page.expect_download(timeout=120_000) as saved:
        desk.page.get_by_role("button", name="Save everything as a ZIP").press("Enter")
    assert saved.value.suggested_filename == "sample-full-run-with-recharge.zip"
    check_everything(Path(saved.value.path()).read_bytes(), tmp_path / "all")

    desk.page.locator("#film-camera").select_option("dash")
    assert "timed by 1 mark" in text_of(desk.page.locator(".publish-body .hint"))
    with desk.page.expect_download() as captions:
        desk.page.get_by_role("link", name="Captions").click()
    assert captions.value.suggested_filename.endswith("-film-dash-captions.vtt")
    zero = next(
        cue for cue in webvtt.read(captions.value.path()) if cue.text.startswith("0 % shown")
    )
    assert zero.start_in_seconds == pytest.approx(90, abs=1.5)

    console.allow("422")
    desk.page.locator("#card-rate").select_option("30")
    desk.page.get_by_role("button", name="Save the cards").click()
    refused = desk.page.locator(".publish-cards .form-status-alarm")
    refused.wait_for()
    assert "10,000 are the most" in text_of(refused)


def test_miles_are_used_when_the_desk_shows_miles(desk: Desk, filmed: str):
    open_publish(desk, filmed)
    desk.page.get_by_label("Unit of distance").select_option("mi")
    until(
        desk.page,
        "() => document.querySelector('.preview-sheet img')?.src.endsWith('units=mi')",
    )
    address = desk.page.get_by_role("link", name="Report, one web page").get_attribute("href")
    assert address == f"/api/sessions/{FULL_RUN}/publish/report-html?units=mi"


@pytest.mark.parametrize("dark", [False, True])
def test_publishing_is_accessible_and_says_what_is_missing(
    new_desk: Callable[..., Desk], dark: bool
):
    desk = new_desk(1024, 900, dark=dark)
    open_publish(desk, desk.bring_in("early-shutdown"))
    desk.page.locator(".publish-missing summary").press("Enter")
    said = text_of(desk.page.locator(".publish-missing"))
    assert "Ladder of warnings Needs events past zero" in said
    found = Axe().run(desk.page, {"include": [["#publish"]]})
    assert found.violations_count == 0, found.generate_report()
