"""The follow page in a real browser on the real server, while a run is being driven."""

from __future__ import annotations

import json
import math
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import WAIT_MS, ConsoleWatch, until
from patience import LONGEST_S
from playwright.sync_api import Browser, Page, expect
from server_process import LiveServer, add_person

WITHIN_MS = 2000  # from the tap's arrival at the server to the screen, by the page's clock
RADIUS_M, SPEED_MPS = 300.0, 20.0


@dataclass(slots=True)
class Car:
    """What the phone in the car sends, over HTTP as it does; round a circle at 20 m/s."""

    url: str
    session: str = field(default_factory=lambda: str(uuid.uuid4()))
    start_ms: int = 0
    token: str = ""

    def call(self, method: str, path: str, body: Any = None) -> Any:
        headers = {"Content-Type": "application/json"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        request = urllib.request.Request(
            f"{self.url}/api{path}",
            method=method,
            data=None if body is None else json.dumps(body).encode(),
            headers=headers,
        )
        with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
            return json.load(answer)

    def begin(self, ago_s: int) -> None:
        """Make the session, as one that began so long ago."""
        gate = {"lat": 12.0, "lon": -38.0 + RADIUS_M / self._m_per_degree(),
                "heading_deg": 0.0, "half_width_m": 30.0}  # fmt: skip
        setup = {
            "session": {"id": self.session},
            "vehicle": {"label": "Sample car A"},
            "course": {"label": "Course One", "gate": gate},
        }
        self.call("PUT", f"/sessions/{self.session}", {"base": None, "setup": setup})
        self.start_ms = round(time.time() * 1000) - 1000 * ago_s

    def now_s(self) -> int:
        """Seconds since the beginning."""
        return round(time.time() - self.start_ms / 1000)

    def drive(self, first_s: int, last_s: int) -> None:
        seconds = range(first_s, last_s)
        angles = [second * SPEED_MPS / RADIUS_M for second in seconds]
        fixes = {
            "device": "phone-1",
            "seq": list(seconds),
            "t_ms": [self.start_ms + 1000 * second for second in seconds],
            "lat": [12.0 + RADIUS_M * math.sin(a) / 111_195 for a in angles],
            "lon": [-38.0 + RADIUS_M * math.cos(a) / self._m_per_degree() for a in angles],
            "speed_mps": [SPEED_MPS for _ in angles],
        }
        self.send(breadcrumbs=[fixes])

    def tap(self, kind: str, at_s: float, **more: Any) -> None:
        t_ms = self.start_ms + round(1000 * at_s)
        event = {"id": str(uuid.uuid4()), "device": "phone-1", "t_ms": t_ms, "kind": kind, **more}
        self.send(events=[event])

    def read(self, at_s: float, kwh: float) -> None:
        reading = {"id": str(uuid.uuid4()), "device": "phone-1", "quantity": "trip_energy",
                   "t_ms": self.start_ms + round(1000 * at_s), "value": kwh, "unit": "kWh",
                   "resolution": 0.1}  # fmt: skip
        self.send(readings=[reading])

    def send(self, **records: Any) -> None:
        told = self.call(
            "POST", f"/sessions/{self.session}/records", {"device": "phone-1", **records}
        )
        assert told["refused"] == []

    @staticmethod
    def _m_per_degree() -> float:
        return 111_195 * math.cos(math.radians(12))


@pytest.fixture
def car(live_server: LiveServer) -> Car:
    car = Car(live_server.url)
    car.begin(ago_s=200)
    return car


@pytest.fixture
def open_page(browser: Browser, console: ConsoleWatch) -> Iterator[Callable[..., Page]]:
    pages: list[Page] = []

    def opened(
        url: str, width: int = 360, height: int = 740, dark: bool = False, its_clock: bool = True
    ) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme="dark" if dark else "light"
        )
        context.set_default_timeout(WAIT_MS)
        page = context.new_page()
        console.watch(page)
        pages.append(page)
        if not its_clock:
            page.clock.install()
        page.goto(url)
        return page

    yield opened
    for page in pages:
        page.context.close()


def stop_clock(page: Page) -> None:
    """From now on the page's time passes only when a test says so."""
    page.clock.pause_at(page.evaluate("() => Date.now()") + 1000)


def wait_for_words_in_time(page: Page, selector: str, words: str) -> None:
    """What the page asks for by the end of its time must bring the words, however long the
    server takes on a busy machine.
    """
    page.clock.run_for(WITHIN_MS)
    wait_for_words(page, selector, words)


def says(page: Page, selector: str) -> str:
    return " ".join(page.locator(selector).inner_text().split())


def wait_for_words(page: Page, selector: str, words: str) -> None:
    until(
        page,
        "([where, words]) => document.querySelector(where)?.textContent.includes(words)",
        [selector, words],
    )


def test_a_run_is_followed_within_two_seconds_of_each_tap(
    car: Car, open_page: Callable[..., Page]
) -> None:
    car.drive(0, 100)
    page = open_page(f"{car.url}/follow#{car.session}", its_clock=False)
    wait_for_words(page, "#contact", "In contact")
    stop_clock(page)
    assert says(page, "#vehicle") == "Sample car A"
    assert says(page, "#distance") == "–"
    for kind, at_s, words in (
        ("zero_soc", 100.9, "0 % shown"),
        ("warning", 130, "Warning: “Charge now”"),
        ("speed_capped", 150, "Top speed capped"),
    ):
        more = {"text": "Charge now"} if kind == "warning" else {}
        car.tap(kind, at_s, **more)
        wait_for_words_in_time(page, "#event", words)
    page.clock.resume()
    car.drive(100, 200)
    wait_for_words(page, "#distance", "1.9")  # 99 s at 20 m/s
    assert "provisional" in says(page, ".figures")
    low, high = map(float, says(page, "#distance-interval").split("–"))
    assert low < 1.98 < high
    car.read(90, 4.0)
    car.read(110, 4.2)
    car.read(190, 5.1)
    wait_for_words(page, "#energy", "1.0")
    expect(page.locator("#map .car")).to_have_attribute("visibility", "visible")
    car.drive(200, car.now_s() + 30)  # a busy server may take a while to tell
    wait_for_words(page, "#position", "Here now")
    assert "Here now, 72 km/h" in says(page, "#position")
    page.locator("#units").click()
    wait_for_words(page, "#distance", "mi")
    assert "mph" in says(page, "#position")
    assert_accessible(page)
    nowhere = open_page(f"{car.url}/follow")
    wait_for_words(nowhere, "#contact", "Scan the code at the desk")
    assert_accessible(nowhere)


def test_the_end_is_told_in_words_colour_and_sound(
    car: Car, open_page: Callable[..., Page], console: ConsoleWatch
) -> None:
    car.drive(0, 150)
    car.tap("zero_soc", 50)
    page = open_page(f"{car.url}/follow#{car.session}", its_clock=False)
    wait_for_words(page, "#event", "0 % shown")
    page.evaluate(
        """() => {
          window.tones = 0;
          const start = OscillatorNode.prototype.start;
          OscillatorNode.prototype.start = function (...when) {
            window.tones += 1;
            return start.apply(this, when);
          };
        }"""
    )
    expect(page.locator("#alarm")).to_be_hidden()
    page.locator("#sound").click()
    expect(page.locator("#sound")).to_have_attribute("aria-pressed", "true")
    stop_clock(page)
    heard = page.evaluate("window.tones")
    assert heard > 0  # switched on it is heard once, so that one knows how loud it is
    for kind, words in (
        ("propulsion_off", "Propulsion off"),
        ("contactors_open", "Contactors open"),
    ):
        car.tap(kind, 150)
        wait_for_words_in_time(page, "#alarm .what", words)
        assert page.evaluate("window.tones") > heard
        heard = page.evaluate("window.tones")
        assert words in page.title()
    assert "Before: Propulsion off" in says(page, "#alarm")
    colour = page.evaluate("getComputedStyle(document.querySelector('#alarm')).backgroundColor")
    assert colour == "rgb(163, 25, 43)"
    for _ in range(5):  # a second each, and its answers
        with page.expect_response("**/live"):
            page.clock.run_for(1000)
    page.clock.resume()
    assert page.evaluate("window.tones") == heard  # not again with every second
    page.locator("#theme").click()
    assert_accessible(page)
    page.set_viewport_size({"width": 740, "height": 360})
    assert_accessible(page)


# What hangs out of the screen, or out of its own part of the page.
CUT_OFF = """() => {
  const parts = ["header", "#alarm", ".figures", ".last", "#position", "footer p"];
  const out = [...parts, ...parts.map((part) => `${part} *`)].flatMap((part) =>
    [...document.querySelectorAll(part)]).filter((node) => {
      const { right, bottom } = node.getBoundingClientRect();
      const own = node.closest("section, footer, header, #alarm").getBoundingClientRect();
      return bottom > innerHeight + 0.5 || right > own.right + 0.5 || bottom > own.bottom + 0.5;
    });
  return out.map((node) => node.outerHTML);
}"""


@pytest.mark.parametrize(("width", "height"), [(360, 740), (740, 360)])
def test_in_alarm_everything_is_in_sight_at_once(
    car: Car, open_page: Callable[..., Page], width: int, height: int
) -> None:
    page = open_page(f"{car.url}/follow#{car.session}", width, height)
    wait_for_words(page, "#contact", "In contact")
    expect(page.locator("#map .car")).to_have_attribute("visibility", "hidden")
    assert page.evaluate(CUT_OFF) == []
    car.drive(0, 150)
    car.tap("zero_soc", 50)
    for at_s, kwh in ((40, 4.0), (60, 4.2), (140, 5.1)):
        car.read(at_s, kwh)
    car.tap("propulsion_off", 148)
    car.tap("contactors_open", 149)
    wait_for_words(page, "#alarm", "Before: Propulsion off")
    wait_for_words(page, "#energy", "1.0")
    wait_for_words(page, "#event", "Contactors open")
    assert page.evaluate(CUT_OFF) == []
    assert page.locator("#map").bounding_box()["height"] > 150  # type: ignore[index]


def test_nobody_answering_is_said_and_mended_by_itself(
    car: Car, live_server: LiveServer, open_page: Callable[..., Page], console: ConsoleWatch
) -> None:
    console.allow("ERR_CONNECTION_REFUSED", "Failed to load resource")
    car.drive(0, 150)
    page = open_page(f"{car.url}/follow#{car.session}")
    wait_for_words(page, "#contact", "In contact")
    live_server.stop()
    wait_for_words(page, "#contact", "No contact for")
    expect(page.locator("#contact")).to_have_attribute("data-state", "lost")
    assert says(page, "#position")  # what was known stays
    live_server.start()
    page.evaluate("dispatchEvent(new Event('online'))")
    wait_for_words(page, "#contact", "In contact")


@pytest.fixture
def shut(live_server: LiveServer) -> Iterator[Callable[[], None]]:
    """Makes an account: from then on nothing is open."""
    yield lambda: add_person(live_server.data)
    live_server.forget()  # the test after may take it as it is


def test_a_code_follows_its_run_alone_and_only_until_it_is_shut_out(
    car: Car, shut: Callable[[], None], open_page: Callable[..., Page], console: ConsoleWatch
) -> None:
    key = car.call(
        "POST", f"/sessions/{car.session}/keys", {"label": "Chase vehicle", "looks": True}
    )
    car.tap("zero_soc", 50)
    shut()
    page = open_page(key["url"])
    wait_for_words(page, "#event", "0 % shown")
    assert page.url == f"{car.url}/follow#{car.session}"
    page.reload()
    wait_for_words(page, "#event", "0 % shown")
    console.allow("401")
    stranger = open_page(f"{car.url}/follow#{car.session}")
    wait_for_words(stranger, "#contact", "Sign in first.")
    expect(stranger.locator("#contact a")).to_have_attribute(
        "href", f"/sign-in#/follow#{car.session}"
    )
    car.token = key["token"]
    with pytest.raises(urllib.error.HTTPError) as refused:
        car.call("DELETE", f"/sessions/{car.session}/keys/{key['id']}")
    with refused.value:
        assert refused.value.code == 403
