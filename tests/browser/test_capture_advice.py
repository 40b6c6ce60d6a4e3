"""What the drive page advises: words to read to the driver, and figures worth noting now."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from browser.conftest import Car, Phone, until
from playwright.sync_api import Browser, Page
from server_process import LiveServer

BUTTONS = """() => [
  ...document.querySelectorAll(".drive button:not(.advice-quiet)")
].map((node) => {
  const { x, y, width, height } = node.getBoundingClientRect();
  const top = document.elementFromPoint(x + width / 2, y + height / 2);
  return { what: node.dataset.key ?? node.textContent, box: [x, y, width, height],
           free: node.contains(top) };
})"""
SHIFTS = """() => {
  window.shifts = [];
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) window.shifts.push(entry.value);
  }).observe({ type: "layout-shift" });
}"""


@pytest.fixture(scope="module")
def modules(browser: Browser, capture_server: LiveServer) -> Iterator[Page]:
    """A page from which the app's pure modules can be imported."""
    page = browser.new_page()
    page.goto(f"{capture_server.url}/capture/speed-band.js")
    yield page
    page.close()


# --- the speed band --------------------------------------------------------------------------

DRIVE_ALONG = """async ([speeds, options]) => {
  const { startBandWatch } = await import("/capture/speed-band.js");
  const watch = startBandWatch();
  return speeds.map((speed_kmh, i) => {
    if (options.hush_at === i) watch.hush();
    return watch.update({
      speed_mps: speed_kmh === null ? null : speed_kmh / 3.6, now_ms: i * 500,
      band_kmh: options.band === undefined ? [50, 90] : options.band,
      mayGoFaster: options.mayGoFaster ?? true,
    });
  });
}"""


def advised(modules: Page, speeds: list[float | None], **options: Any) -> list[str | None]:
    """What is said at each half second of a drive at these speeds in km/h; the band is 50 to 90."""
    said: list[str | None] = modules.evaluate(DRIVE_ALONG, [speeds, options])
    return said


def test_a_car_clearly_above_the_band_is_told_after_a_moment(modules: Page) -> None:
    said = advised(modules, [80, 97, 97, 97, 97, 97, 91, 90, 89])
    assert said == [None, None, None, None, "slower", "slower", "slower", None, None]


def test_a_speed_that_hovers_at_the_edge_says_nothing(modules: Page) -> None:
    assert set(advised(modules, [88, 91, 90, 91.5, 89, 91, 90.5, 91.9] * 5)) == {None}


def test_one_odd_fix_says_nothing(modules: Page) -> None:
    assert set(advised(modules, [80, 80, 140, 80, 80, 20, 80])) == {None}


def test_faster_is_for_a_car_that_was_in_the_band_since_it_last_stood(modules: Page) -> None:
    assert set(advised(modules, [0, 20, 30, 40, 40, 40, 40, 40])) == {None}
    assert advised(modules, [60, 40, 40, 40, 40, 40])[-1] == "faster"
    assert set(advised(modules, [60, 30, 5, 0, 0, 20, 30, 40, 40, 40, 40])) == {None}


def test_a_car_that_cannot_is_not_told_to_go_faster(modules: Page) -> None:
    assert set(advised(modules, [60, 40, 40, 40, 40, 40], mayGoFaster=False)) == {None}
    assert advised(modules, [60, 97, 97, 97, 97], mayGoFaster=False)[-1] == "slower"


def test_an_unknown_speed_and_an_unplanned_band_are_silent(modules: Page) -> None:
    assert advised(modules, [80, 97, 97, 97, 97, None, 97]) == [None] * 4 + ["slower", None, None]
    assert set(advised(modules, [97] * 8, band=None)) == {None}


def test_once_hushed_it_is_silent_until_the_car_was_in_the_band_again(modules: Page) -> None:
    said = advised(modules, [80, *[97] * 8, 80, *[97] * 5], hush_at=6)
    assert said[5] == "slower"
    assert set(said[6:10]) == {None}
    assert said[-1] == "slower"


def roll_until_advised(phone: Phone, car: Car, speed_mps: float) -> str:
    """Drive on until the page advises; what it says, on one line."""
    advice = phone.page.locator(".advice")
    for _ in range(40):
        car.roll(0.25, speed_mps)
        if advice.is_visible():
            return " ".join(advice.locator("p").inner_text().split())
    pytest.fail("no advice came")


@pytest.mark.parametrize(
    ("width", "height", "unit", "words"),
    [
        (360, 740, "km", "Read to driver: slower, 97 band 50 to 90 km/h"),
        (740, 360, "mi", "Read to driver: slower, 60 band 31 to 56 mph"),
    ],
)
def test_leaving_the_band_is_said_without_moving_or_covering_a_button(
    new_phone: Callable[..., Phone], width: int, height: int, unit: str, words: str
) -> None:
    phone = new_phone(width, height)
    phone.open()
    phone.page.evaluate(
        "unit => localStorage.setItem('ebbline.units', JSON.stringify({ distance: unit }))", unit
    )
    phone.page.reload()
    phone.page.wait_for_selector("main")
    phone.make_session()
    phone.accept_cautions()
    car = Car(phone.context, phone.page)
    car.roll(0.5, 20.0)
    before = phone.page.evaluate(BUTTONS)
    phone.page.evaluate(SHIFTS)
    assert roll_until_advised(phone, car, 27.0) == words
    after = phone.page.evaluate(BUTTONS)
    assert [one["box"] for one in after] == [one["box"] for one in before]
    assert [one["what"] for one in after if not one["free"]] == []
    assert phone.page.evaluate("() => window.shifts") == []
    phone.page.locator(".advice-quiet").tap()
    car.roll(1.0, 27.0)
    assert phone.page.locator(".advice").is_hidden()


def test_a_car_that_fades_or_stands_dead_is_not_nagged(phone: Phone) -> None:
    phone.drive()
    car = Car(phone.context, phone.page)
    car.roll(0.5, 20.0)
    phone.press("power_limited")
    phone.wait_stored("Power limited")
    car.roll(2.5, 10.0)
    assert phone.page.locator(".advice").is_hidden()
    roll_until_advised(phone, car, 27.0)
    phone.press("propulsion_off")
    phone.wait_stored("Propulsion off")
    until(phone.page, "() => document.querySelector('.advice').hidden")
