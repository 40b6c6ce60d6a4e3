"""Readings typed beside the photo they come from, with the hands on the keys."""

from __future__ import annotations

import io
import json
import time
import urllib.parse
import urllib.request
from typing import Any

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import until
from browser.desk.conftest import Desk
from patience import LONGEST_S
from PIL import Image, ImageDraw
from playwright.sync_api import expect

PHOTOS = 30


def take_photo(desk: Desk, t_ms: int, event: str, shade: int) -> str:
    """Send a picture of a display, as a phone does; answers with its hash."""
    picture = Image.new("RGB", (320, 200), (shade, 20, 30))
    ImageDraw.Draw(picture).text((40, 60), f"photo {shade}", fill="white")
    data = io.BytesIO()
    picture.save(data, "PNG")
    query = urllib.parse.urlencode({"t_ms": t_ms, "device": "phone-1", "event": event})
    request = urllib.request.Request(
        f"{desk.url}/api/sessions/{desk.full_run}/photos?{query}",
        data=data.getvalue(),
        headers={"Content-Type": "image/png"},
    )
    with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
        return str(json.load(answer)["held"]["sha256"])


@pytest.fixture
def photos(desk: Desk) -> list[dict[str, Any]]:
    """The full run is open on the desk, with thirty photos taken over its length."""
    desk.bring_in("full-run")
    events = desk.says(f"/sessions/{desk.full_run}")["events"]
    first, last = events[0]["t_ms"], events[-1]["t_ms"]
    for i in range(PHOTOS):
        t_ms = first + (last - first) * i // PHOTOS
        take_photo(desk, t_ms, events[i]["id"], 40 + i)
    desk.open_session(desk.full_run)
    held: list[dict[str, Any]] = desk.says(f"/sessions/{desk.full_run}")["photos"]
    return sorted(held, key=lambda photo: photo["t_ms"])


def typed(desk: Desk) -> list[dict[str, Any]]:
    """Readings that came from photos, oldest photo first."""
    readings = desk.says(f"/sessions/{desk.full_run}")["readings"]
    return sorted((r for r in readings if r.get("photo")), key=lambda r: r["t_ms"])


def wait_heading(desk: Desk, words: str) -> None:
    until(
        desk.page,
        "words => document.querySelector('.photo-desk h2').textContent === words",
        words,
    )


def test_thirty_photos_are_typed_by_keyboard_alone(
    desk: Desk, photos: list[dict[str, Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    keys = desk.page.keyboard
    desk.turn_to("photos")
    desk.page.get_by_role("button", name="Type figures from photos").focus()
    keys.press("Enter")
    wait_heading(desk, "Photo 1 of 30")
    until(desk.page, "() => document.querySelector('.stage img').naturalWidth === 320")
    scale = "() => new DOMMatrix(document.querySelector('.stage img').style.transform).a"
    whole = desk.page.evaluate(scale)
    keys.press("+")  # from within the field
    assert desk.page.evaluate(scale) == pytest.approx(2 * whole)
    # the display rounds down: said once, remembered for all that follow
    desk.page.get_by_label("Rounding of Trip energy").select_option("down")
    desk.page.get_by_label("Last digit of Displayed charge").fill("0.5")
    desk.page.locator("#photo-trip_energy").focus()
    started = time.monotonic()
    for i in range(PHOTOS):
        keys.type(f"{i / 10:.1f}")
        keys.press("Enter")
        keys.press("Enter")  # no trip distance on these
        keys.type(f"{5 - i // 10}")
        keys.press("Enter")
        if i < PHOTOS - 1:
            wait_heading(desk, f"Photo {i + 2} of 30")
    desk.page.locator(".photo-side .form-status", has_text="last photo").wait_for()
    with capsys.disabled():
        each_s = (time.monotonic() - started) / PHOTOS
        print(f"\na photo takes the page {each_s:.2f} s beside the typing")

    readings = typed(desk)
    assert len(readings) == 2 * PHOTOS
    for i, photo in enumerate(photos):
        energy, soc = sorted(readings[2 * i : 2 * i + 2], key=lambda r: r["quantity"], reverse=True)
        assert energy["photo"] == soc["photo"] == photo["sha256"]
        assert energy["t_ms"] == soc["t_ms"] == photo["t_ms"]
        assert (energy["device"], energy["source"]) == ("phone-1", "typed")
        assert (energy["quantity"], energy["value"], energy["rounding"]) == (
            "trip_energy",
            round(i / 10, 1),
            "down",
        )
        assert (soc["quantity"], soc["value"], soc["resolution"]) == ("soc", 5 - i // 10, 0.5)
        assert (soc["unit"], soc["rounding"]) == ("%", "nearest")
    # a zoom found once is kept for the next photo
    assert desk.page.evaluate(scale) == pytest.approx(2 * whole)
    keys.press("Escape")
    desk.page.locator(".photo-count", has_text="figures typed from 30").wait_for()


def test_a_photo_come_back_to_is_corrected_not_typed_twice(
    desk: Desk, photos: list[dict[str, Any]]
) -> None:
    page = desk.page
    desk.turn_to("photos")
    page.get_by_role("button", name="Type figures from photos").click()
    page.locator("#photo-trip_energy").fill("1.2")
    page.keyboard.press("PageDown")
    wait_heading(desk, "Photo 2 of 30")
    page.keyboard.press("PageUp")
    wait_heading(desk, "Photo 1 of 30")
    expect(page.locator("#photo-trip_energy")).to_have_value("1.2")
    page.locator("#photo-trip_energy").fill("1,3")
    page.keyboard.press("Control+Enter")
    wait_heading(desk, "Photo 2 of 30")
    first, second = typed(desk)
    assert (first["value"], second["value"]) == (1.2, 1.3)
    assert second["corrects"] == first["id"]
    assert second["reason"] == "read again from the photo"

    # nonsense is pointed at and the photo stays
    page.locator("#photo-soc").fill("five")
    page.keyboard.press("PageDown")
    expect(page.locator(".photo-side .form-status")).to_contain_text("must be a number")
    assert page.evaluate("document.activeElement.id") == "photo-soc"
    expect(page.locator(".photo-desk h2")).to_have_text("Photo 2 of 30")
    assert_accessible(page)
