"""A spoken note: one touch, up to twenty seconds, kept like a photo, heard at the desk."""

from __future__ import annotations

import base64
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import (
    READ_PHOTOS,
    ConsoleWatch,
    Phone,
    later,
    phone_context,
    until,
)
from playwright.sync_api import Browser, BrowserContext, Page, expect
from server_process import LiveServer

from ebbline.exchange.sounds import check_sound

LEAST_SIDE_PX = 48.0
SAME_KEY_AGAIN_MS = 500  # sooner it is the shaking car
# The browser's own decoder: seconds, and how loud it is at the most.
HEARD = """async (text) => {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;
  const sound = await new OfflineAudioContext(1, 48000, 48000).decodeAudioData(bytes);
  const loudest = sound.getChannelData(0).reduce((most, one) => Math.max(most, Math.abs(one)), 0);
  return [sound.duration, loudest];
}"""


# The browser's own streams are kept in sight, to see that they end.
KEEP_STREAMS = """() => {
  const devices = navigator.mediaDevices;
  const ask = devices.getUserMedia.bind(devices);
  window.streams = [];
  devices.getUserMedia = async (wanted) => {
    const stream = await ask(wanted);
    window.streams.push(stream);
    return stream;
  };
}"""
STREAMS = (
    """() => window.streams.map((one) => one.getTracks().map((track) => track.readyState).join())"""
)


@pytest.fixture
def new_hearing(
    media_browser: Browser, console: ConsoleWatch, up_server: LiveServer
) -> Iterator[Callable[..., Phone]]:
    """Makes phones with a microphone, allowed or not."""
    contexts: list[BrowserContext] = []

    def make(*allowed: str) -> Phone:
        context = phone_context(media_browser)
        context.grant_permissions(["geolocation", *allowed])
        contexts.append(context)
        page = context.new_page()
        console.watch(page)
        return Phone(context, page, up_server.url, console)

    yield make
    for context in contexts:
        context.close()


def touch(phone: Phone) -> None:
    phone.page.wait_for_timeout(SAME_KEY_AGAIN_MS)
    phone.page.evaluate("() => { window.heardFrom = Math.max(0, window.heard.length - 1); }")
    phone.page.locator("[data-key=voice]").tap()


def agree(phone: Phone) -> None:
    """The first touch asks, once."""
    touch(phone)
    phone.page.locator(".sheet.listen .key", has_text="All agree").tap()


def listens(page: Page) -> None:
    until(page, "() => document.querySelector('[data-key=voice].listens') !== null")


def kept(phone: Phone) -> list[tuple[dict[str, Any], bytes]]:
    held = phone.page.evaluate(READ_PHOTOS)
    return [(row, bytes(one)) for row, one in zip(held["rows"], held["bytes"], strict=True)]


def heard(page: Page, content: bytes) -> tuple[float, float]:
    seconds, loudest = page.evaluate(HEARD, base64.b64encode(content).decode())
    return seconds, loudest


def test_what_is_said_is_kept_with_the_tap_sent_filed_and_heard_at_the_desk(
    new_hearing: Callable[..., Phone], server_says: Callable[[str], Any], browser: Browser
) -> None:
    phone = new_hearing("microphone")
    page = phone.page
    phone.drive()
    phone.press("power_limited")
    phone.wait_stored("Power limited")
    tap = phone.taps()[0]
    touch(phone)
    sheet = page.locator(".sheet.listen")
    sheet.wait_for()
    expect(sheet).to_contain_text("up to 20 seconds")
    sides = [box for key in sheet.locator("button").all() if (box := key.bounding_box())]
    assert all(min(box["width"], box["height"]) >= LEAST_SIDE_PX for box in sides)
    assert_accessible(page)
    sheet.locator(".key", has_text="All agree").tap()
    listens(page)
    phone.wait_said("Listening")
    undo = page.locator(".undo")  # twenty seconds are long: the tap can still be taken back
    expect(undo).to_have_attribute("aria-label", "Undo: Power limited")
    expect(page.locator(".said")).to_contain_text("Undo: Power limited")
    name = page.locator("[data-key=voice]").get_attribute("aria-label") or ""
    assert name.endswith("stop the spoken note")
    assert_accessible(page, ".keys")
    page.wait_for_timeout(2500)
    touch(phone)
    assert "spoken note with Power limited" in phone.wait_stored("spoken note")
    ((row, content),) = kept(phone)
    assert (row["event"], row["media_type"]) == (tap["id"], "audio/webm")
    assert 0 <= row["t_ms"] - tap["t_ms"] < 20_000
    check_sound(content, "audio/webm")
    seconds, loudest = heard(page, content)
    assert 1.5 < seconds < 15
    assert loudest > 0.05

    # from now on one touch is enough
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    touch(phone)
    listens(page)
    phone.press("warning")  # taps go on meanwhile
    phone.choose("stop_soon")
    phone.wait_stored("Warning")
    touch(phone)
    until(page, "() => document.querySelector('[data-key=voice].listens') === null")
    phone.wait_for("the second note", lambda: len(kept(phone)) == 2)

    page.locator(".bar button", has_text="Log").tap()
    page.locator(".log").wait_for()
    expect(page.locator(".log li", has_text="Spoken note")).to_have_count(2)
    page.locator(".sheet .cross").tap()
    phone.send_all()
    session = phone.session_id()
    held = server_says(f"/sessions/{session}")["photos"]
    assert {one["sha256"] for one in held} == {row["sha256"] for row, _ in kept(phone)}
    page.locator(".strip").first.tap()
    with page.expect_download() as saved:
        page.locator(".status-sheet .key", has_text="Save as file").tap()
    with zipfile.ZipFile(io.BytesIO(saved.value.path().read_bytes())) as archive:
        assert json.loads(archive.read("session.json"))["photos"][0]["media_type"] == "audio/webm"
        assert archive.read(f"photos/{row['sha256']}.webm") == content

    desk = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    phone.console.watch(desk)
    desk.goto(f"{phone.url}/desk?session={session}#ladder")
    player = desk.locator(".ladder-row", has_text="Power limited").locator("audio")
    player.wait_for()
    expect(player).to_have_count(1)
    expect(desk.locator(".ladder-row", has_text="Trip reset").locator("audio")).to_have_count(1)
    expect(desk.locator(".ladder-row", has_text="Warning").locator("audio")).to_have_count(0)
    expect(desk.locator(".spoken-notes audio")).to_have_count(2)
    expect(desk.locator(".spoken-notes li").first).to_contain_text("Power limited")
    until(desk, "() => !document.querySelector('.photos .photo-tile')")  # they are no pictures
    player.evaluate("(one) => { one.muted = true; return one.play(); }")
    until(desk, "() => document.querySelector('.ladder-row audio').currentTime > 0.3")
    assert_accessible(desk, ".ladder-row:has(audio)")
    desk.locator(".parts a[href='#photos']").click()
    assert_accessible(desk, ".spoken-notes")
    desk.context.close()


def test_without_a_yes_or_longer_than_twenty_seconds_nobody_is_recorded(
    new_hearing: Callable[..., Phone],
) -> None:
    """And a page that is hidden keeps what it heard."""
    phone = new_hearing("microphone")
    page = phone.page
    phone.drive()
    touch(phone)
    page.locator(".sheet.listen .key", has_text="Not now").tap()
    later(page, 30)
    expect(page.locator("[data-key=voice].listens")).to_have_count(0)
    assert kept(phone) == []

    page.evaluate(KEEP_STREAMS)
    agree(phone)
    listens(page)
    assert page.evaluate(STREAMS) == ["live"]
    phone.wait_stored("spoken note")
    assert page.evaluate(STREAMS) == ["ended"]  # between notes nothing listens
    ((row, content),) = kept(phone)
    assert row["event"] is None  # nothing was tapped
    seconds, _ = heard(page, content)
    assert 18 < seconds < 22
    expect(page.locator("[data-key=voice].listens")).to_have_count(0)

    touch(phone)
    listens(page)
    page.wait_for_timeout(1500)
    page.evaluate("""() => {
      Object.defineProperty(document, "visibilityState", { value: "hidden", configurable: true });
      document.dispatchEvent(new Event("visibilitychange"));
    }""")
    phone.wait_for("what was heard", lambda: len(kept(phone)) == 2)
    for _, content in kept(phone):
        check_sound(content, "audio/webm")


FAIL_TO_LISTEN = """(name) => {
  navigator.mediaDevices.getUserMedia = async () => { throw new DOMException("no", name); };
}"""


def test_where_nothing_can_listen_the_page_says_why_and_goes_on(
    new_hearing: Callable[..., Phone],
) -> None:
    phone = new_hearing()
    page = phone.page
    phone.drive()
    page.evaluate(FAIL_TO_LISTEN, "NotAllowedError")
    agree(phone)
    phone.wait_said("Not recorded. The microphone is not allowed")
    page.evaluate(FAIL_TO_LISTEN, "NotFoundError")
    touch(phone)
    phone.wait_said("Not recorded. The microphone could not be opened")
    page.add_init_script("delete window.MediaRecorder")
    page.reload()
    page.wait_for_selector("main.drive")
    touch(phone)
    assert "no sound recorder" in phone.wait_said("Not recorded.")
    assert kept(phone) == []
    phone.press("power_limited")
    phone.wait_stored("Power limited")
