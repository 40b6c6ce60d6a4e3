"""Half an hour at the desk in one go: evidence in, finished by hand, and everything out again."""

from __future__ import annotations

import io
import re
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import webvtt
from browser.conftest import until
from browser.desk.conftest import Desk
from browser.desk.test_import import archive_of, file, photo
from browser.desk.test_publish import ZERO_MS, film_marks
from exchange.gpx_rules import broken_rules
from justhtml import JustHTML
from PIL import Image
from playwright.sync_api import expect
from programs import NO_POPPLER, find_poppler

pytestmark = pytest.mark.slow


def held(desk: Desk) -> dict[str, Any]:
    answer: dict[str, Any] = desk.says(f"/sessions/{desk.full_run}")
    return answer


def check_everything(packed: bytes, folder: Path) -> None:
    """Each piece by a program that is not ours."""
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        archive.extractall(folder)
    JustHTML((folder / "report.html").read_text("utf-8"), strict=True, sanitize=False)
    assert broken_rules((folder / "track.gpx").read_text("utf-8")) == []
    table = pd.read_csv(folder / "curves.csv")
    assert {"t_ms", "past_zero_m", "energy_past_zero_kwh", "speed_mps"} <= set(table)
    assert len(table) > 2000
    films = sorted(folder.glob("film/*/*.vtt"))
    assert len(films) == 3
    for film in films:
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


def test_from_an_archive_with_photos_to_a_published_report(desk: Desk, tmp_path: Path):
    page, keys = desk.page, desk.page.keyboard

    # in: an archive with photos, whose protocol states no tap delay and whose film has a mark
    photos = [photo(shade) for shade in (60, 90, 120)]
    document = desk.sample("full-run")
    del document["protocol"]["tap_delay_s"]
    document["events"] += film_marks(document["events"][0]["device"])[:1]
    desk.open_list()
    packed = archive_of(document, photos, ZERO_MS - 900_000)
    page.set_input_files("#import-file", file("run.ebbline.zip", "application/zip", packed))
    page.locator(".import-good a").click()
    desk.wait_drawn()
    before = held(desk)
    assert len(before["photos"]) == 3

    # readings typed beside their photos, with the hands on the keys
    desk.turn_to("photos")
    page.get_by_role("button", name="Type figures from photos").focus()
    keys.press("Enter")
    for number in range(3):
        until(
            page,
            "words => document.querySelector('.photo-desk h2').textContent === words",
            f"Photo {number + 1} of 3",
        )
        page.locator("#photo-soc").focus()
        keys.type("4" if number < 2 else "3")
        keys.press("Enter")
    page.locator(".photo-side .form-status", has_text="last photo").wait_for()
    typed = [reading for reading in held(desk)["readings"] if reading.get("photo")]
    assert {reading["photo"] for reading in typed} == {each["sha256"] for each in before["photos"]}
    page.locator(".photo-head").get_by_role("button", name="Close").press("Enter")
    page.locator("dialog.photo-desk").wait_for(state="hidden")

    # a doubt is fixed where it points to
    page.locator("#doubts .findings-folded summary").last.press("Enter")
    page.locator("[data-code=tap_delay_assumed]").get_by_role("button").first.press("Enter")
    keys.press("ControlOrMeta+a")
    keys.type("0.9")
    page.locator("#choice-delay_sd").fill("0.4")
    page.locator("#choice-reason").fill("as with this passenger before")
    page.get_by_role("button", name="Save these choices").press("Enter")
    page.locator("#choices .form-status-good").wait_for()
    until(page, "() => document.querySelector('[data-code=tap_delay_assumed]') === null")

    # an event is corrected, and the correction undone
    warning = next(event for event in before["events"] if event["text"] == "power reduced")
    desk.turn_to("ladder")
    desk.row(warning["id"]).get_by_role("button", name=re.compile("Correct")).press("Enter")
    page.locator("#event-text").fill("power much reduced")
    page.locator("#event-reason").fill("heard on the film")
    page.locator("#ladder .entry-form").get_by_role("button", name="Save correction").press("Enter")
    desk.wait_saved("#ladder")
    expect(page.locator("#ladder")).to_contain_text("power much reduced")
    desk.turn_to("history")
    page.get_by_role("button", name=re.compile("^Take back: .*power much reduced")).press("Enter")
    page.locator("#history .form-status-good").wait_for()
    standing = page.locator("#ladder tbody tr:not([hidden])")
    expect(standing.filter(has_text="much reduced")).to_have_count(0)
    assert {event["id"] for event in before["events"]} < {e["id"] for e in held(desk)["events"]}

    # out: everything, each piece taken by a reader that is not ours
    desk.turn_to("publish")
    with page.expect_download(timeout=120_000) as saved:
        page.get_by_role("button", name="Save everything as a ZIP").press("Enter")
    check_everything(Path(saved.value.path()).read_bytes(), tmp_path / "all")
    told = (tmp_path / "all" / "report.html").read_text("utf-8")
    assert "0.9 s late" in told
    assert "much reduced" not in told
