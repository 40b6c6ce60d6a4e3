"""Pictures of the display: two touches, no position lost, and hundreds of them in nobody's way."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import (
    READ_PHOTOS,
    WATCH_TOO,
    Car,
    ConsoleWatch,
    Phone,
    phone_context,
    until,
    worked_ms,
)
from PIL import Image
from playwright.sync_api import Browser, expect
from server_process import LiveServer

LONG_EDGE_PX = 1600


@pytest.fixture
def seeing_phone(
    media_browser: Browser, console: ConsoleWatch, up_server: LiveServer
) -> Iterator[Phone]:
    """A phone with a camera."""
    context = phone_context(media_browser)
    context.grant_permissions(["geolocation", "camera"])
    page = context.new_page()
    console.watch(page)
    yield Phone(context, page, up_server.url, console)
    context.close()


def pictures(phone: Phone) -> list[tuple[dict[str, Any], Image.Image]]:
    """What the phone holds: each row with its picture, decoded by another program."""
    held = phone.page.evaluate(READ_PHOTOS)
    return [
        (row, Image.open(io.BytesIO(bytes(content))))
        for row, content in zip(held["rows"], held["bytes"], strict=True)
    ]


def test_two_touches_store_a_picture_with_its_tap_and_lose_no_position(
    seeing_phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone = seeing_phone
    phone.drive()
    open_camera(phone)
    expect(phone.page.locator(".camera .kept")).to_contain_text("no position is lost")
    assert_accessible(phone.page)
    phone.page.locator(".sheet .cross").tap()
    car = Car(phone.context, phone.page)
    car.roll(1.0, 20.0)
    phone.press("warning")
    phone.choose("range_low")
    phone.wait_stored("range low")
    open_camera(phone)
    phone.page.evaluate(WATCH_TOO)
    car.fix(20.0)
    began_ms = phone.page.evaluate("() => Date.now()")
    aimed_at = [aim(phone, car) for _ in range(8)]
    phone.page.locator(".shutter").tap()
    phone.wait_stored("photo with Warning: range low")
    assert phone.page.evaluate("() => document.querySelector('video')") is None  # camera is off
    expect(phone.page.locator(".undo")).to_be_disabled()  # a picture is evidence, the tap is older
    phone.page.locator(".bar button", has_text="Log").tap()
    phone.page.locator(".log").wait_for()
    names = [
        name
        for name in phone.page.locator(".log-what").all_inner_texts()
        if not name.startswith("No GPS")
    ]  # before it was aimed, on a busy machine
    assert names[:2] == ["Photo", "Warning: range low"]
    phone.page.locator(".cross").tap()
    ((row, image),) = pictures(phone)
    assert (image.format, row["media_type"]) == ("JPEG", "image/jpeg")
    assert max(image.size) <= LONG_EDGE_PX
    assert image.convert("L").getextrema()[1] > 50  # not a black frame
    (tap,) = phone.taps()
    assert row["event"] == tap["id"]

    phone.send_all()
    held = server_says(f"/sessions/{phone.session_id()}")
    (photo,) = server_says(f"/sessions/{phone.session_id()}")["photos"]
    assert (photo["sha256"], photo["event"]) == (row["sha256"], tap["id"])
    gaps = [event["gap"] for event in held["events"] if event.get("log") == "gps_gap"]
    assert [gap for gap in gaps if gap["to_ms"] > began_ms] == []
    assert len(set(aimed_at)) == 8

    def kept() -> set[float]:
        return {lat for chunk in phone.stored()["fixes"] for lat in chunk["columns"]["lat"]}

    phone.wait_for(lambda: f"{aimed_at} among {kept()}", lambda: set(aimed_at) <= kept())


def open_camera(phone: Phone) -> None:
    phone.page.locator("[data-key=photo]").tap()
    until(phone.page, "() => document.querySelector('.shutter')?.disabled === false")


def aim(phone: Phone, car: Car) -> float:
    """The car moves on while the passenger aims; gives the latitude that the page was told of."""
    before = phone.page.evaluate("() => window.seen")
    car.fix(20.0)
    until(phone.page, "before => window.seen !== undefined && window.seen !== before", before)
    return float(phone.page.evaluate("() => window.seen"))


def test_without_a_camera_in_the_page_the_camera_app_is_offered_and_its_gap_told(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    """As on a page without TLS, or in a browser that has none."""
    page = phone.page
    page.add_init_script("Object.defineProperty(navigator, 'mediaDevices', { value: undefined });")
    phone.drive()
    phone.wait_fixes()
    page.locator("[data-key=photo]").tap()
    words = page.locator(".camera .kept").inner_text()
    assert "the position watch stops until you are back" in words
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Open the camera app").tap()
    phone.wait_lost()  # in the camera app no fix comes
    large = io.BytesIO()
    Image.new("RGB", (3000, 2000), "green").save(large, "PNG")
    chooser.value.set_files({"name": "a.png", "mimeType": "image/png", "buffer": large.getvalue()})
    phone.wait_said("Stored")
    phone.context.set_geolocation({"latitude": 47.001, "longitude": 8.0, "accuracy": 4.0})
    ((row, image),) = pictures(phone)
    assert (image.format, image.size) == ("JPEG", (1600, 1067))
    assert row["event"] is None  # nothing was tapped just before
    until(
        page,
        "() => document.querySelector('[data-cell=gps] b').textContent.includes('±')",
    )
    phone.send_all()
    events = server_says(f"/sessions/{phone.session_id()}")["events"]
    gaps = [event["gap"]["cause"] for event in events if event.get("log") == "gps_gap"]
    assert gaps == ["the camera app hid the page"]


COUNT_PICTURES_READ = """() => {
  window.picturesRead = 0;
  const count = (found) => [found].flat().filter((row) => row?.bytes).length;
  for (const { prototype } of [IDBObjectStore, IDBIndex]) {
    for (const name of ["get", "getAll", "openCursor"]) {
      const read = prototype[name];
      prototype[name] = function (...what) {
        const request = read.apply(this, what);
        request.addEventListener("success", () => {
          const { result } = request;
          window.picturesRead += count(result instanceof IDBCursor ? result.value : result);
        });
        return request;
      };
    }
  }
}"""


def test_hundreds_of_pictures_hold_up_no_tap(phone: Phone) -> None:
    phone.console.allow("net::ERR_INTERNET_DISCONNECTED")
    phone.drive()
    # taken in while there is a network: the offline copy holds what the page itself loads
    phone.page.evaluate('() => import("/capture/storage/store.js").then(() => null)')
    phone.context.set_offline(True)
    phone.page.evaluate(
        """async ([session_id, count]) => {
          const { openStore } = await import("/capture/storage/store.js");
          const store = openStore({ indexedDB, estimate: async () => ({}) });
          const add = (i) => {
            const bytes = new Uint8Array(200_000).fill(i % 251);
            new DataView(bytes.buffer).setUint32(0, i);
            return store.addPhoto({ session_id, event_id: null, t_ms: i, device: "d",
              media_type: "image/jpeg", bytes: bytes.buffer });
          };
          for (let from = 0; from < count; from += 50) {
            await Promise.all(Array.from({ length: 50 }, (_, i) => add(from + i)));
          }
        }""",
        [phone.session_id(), 200],
    )
    phone.page.evaluate(COUNT_PICTURES_READ)
    read_ms, work_ms = worked_ms(phone.page), []
    for key in ("trip_reset", "floored", "trip_reset", "floored", "trip_reset"):
        before_ms = read_ms()
        phone.page.evaluate("() => { document.querySelector('.drive .said').textContent = ''; }")
        phone.press(key)
        phone.wait_said("Stored")
        work_ms.append(round(read_ms() - before_ms, 1))
        phone.wait_at_rest()
    print("work of a tap with 200 pictures waiting, ms:", work_ms)
    assert sorted(work_ms)[2] < 100
    assert phone.page.evaluate("() => window.picturesRead") <= 1  # the one to be sent next
    expect(phone.page.locator("[data-cell=sync] b")).not_to_have_text("synced")
