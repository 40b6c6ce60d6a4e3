"""What the car does by itself: whose doing it was, what it said, and the picture of that."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from browser.conftest import Phone, later, starting
from PIL import Image
from playwright.sync_api import expect


def open_in_log(phone: Phone, words: str) -> None:
    phone.page.locator(".bar button", has_text="Log").tap()
    phone.page.locator(".log button", has_text=words).first.tap()


def said(tap: dict[str, Any]) -> tuple[Any, ...]:
    return tap["kind"], tap["text"], tap.get("done_by")


def test_who_did_it_is_asked_where_car_or_crew_may_have(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    page = phone.page
    for key, choice, words in [
        ("hazards_on", "crew", "Hazard lights on: by the crew"),
        ("assist_change", "disengaged car", "Assistance changed: switched off, by the car"),
        ("assist_change", "stopped_in_lane", "Assistance changed: stopped in lane"),
        ("comfort_cut", "climate crew", "Comfort reduced: climate off, by the crew"),
    ]:
        phone.press(key)
        phone.choose(choice)
        phone.wait_stored(words)
    phone.press("hazards_on")
    page.locator(".choices .cross").tap()  # nobody knows: the moment counts all the same
    phone.wait_stored("Hazard lights on")
    assert [said(tap) for tap in phone.taps()] == [
        ("hazards_on", None, "crew"), ("assist_change", "disengaged", "car"),
        ("assist_change", "stopped_in_lane", None), ("comfort_cut", "climate", "crew"),
        ("hazards_on", None, None),
    ]  # fmt: skip

    open_in_log(phone, "switched off, by the car")
    choice = page.locator("#detail-choice")
    expect(choice).to_have_value("disengaged car")
    expect(page.locator("#detail-text")).to_be_hidden()  # the choice says it
    choice.select_option("disengaged crew")
    page.locator(".one .store").tap()
    phone.wait_stored("Assistance changed: switched off, by the crew")

    # those who follow must know at once: it is stored first, how it was told can be said later
    phone.press("contactors_open")
    phone.wait_stored("Contactors open")
    expect(page.locator(".sheet")).to_have_count(0)
    open_in_log(phone, "Contactors open")
    page.locator("#detail-choice").select_option("heard")
    page.locator(".one .store").tap()
    phone.wait_stored("Contactors open: told from the sound")
    phone.wait_synced()
    events = server_says(f"/sessions/{phone.session_id()}")["events"]
    assert ("contactors_open", "heard", None) in map(said, events)
    assert ("assist_change", "disengaged", "crew") in map(said, events)


def test_the_same_words_as_before_are_one_touch(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    for choice, words in {"power_reduced": "Drive moderately", "stop_soon": "Pull over"}.items():
        phone.press("warning")
        phone.choose(choice)
        phone.wait_stored("Warning: ")
        open_in_log(phone, "Warning")
        page.fill("#detail-text", words)
        page.locator(".one .store").tap()
        phone.wait_stored(words)
    phone.press("warning")
    tiles = page.locator(".choices [data-said]").all_inner_texts()
    assert [tile.split("\n")[0] for tile in tiles] == ["“Pull over”", "“Drive moderately”"]
    page.locator("[data-said='Drive moderately']").tap()
    phone.wait_stored("Warning: “Drive moderately” (power reduced)")
    tap = phone.taps()[-1]
    assert (tap["kind"], tap["text"], tap["class"]) == (
        "warning", "Drive moderately", "power_reduced",
    )  # fmt: skip
    page.reload()
    page.wait_for_selector("main.drive")
    phone.press("warning")
    expect(page.locator(".choices [data-said]").first).to_have_text(starting("“Drive moderately”"))


def test_a_photo_of_a_warning_belongs_to_it_however_long_it_takes(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    phone.press("warning")
    phone.choose("photo")
    phone.wait_stored("Warning")
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Open the camera app").tap()
    later(page, 60)
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "green").save(picture, "PNG")
    files = {"name": "a.png", "mimeType": "image/png", "buffer": picture.getvalue()}
    chooser.value.set_files(files)
    phone.wait_stored("photo with Warning")
    (photo,) = phone.stored()["photos"]
    (tap,) = phone.taps()
    assert photo["event"] == tap["id"]
    assert photo["t_ms"] - tap["t_ms"] > 20_000
