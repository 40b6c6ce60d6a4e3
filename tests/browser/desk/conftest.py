"""The desk in a real browser, on the real server, with the real sample sessions."""

from __future__ import annotations

import contextlib
import json
import re
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import WAIT_MS, ConsoleWatch, until
from patience import LONGEST_S
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Locator,
    Page,
    ViewportSize,
    expect,
)
from server_process import LiveServer

SAMPLES = Path(__file__).parents[3] / "sample_sessions"
SCREEN: ViewportSize = {"width": 1440, "height": 900}


@dataclass(slots=True)
class Desk:
    """The desk's pages, as the person at the desk uses them."""

    page: Page
    url: str
    full_run: str = field(default_factory=lambda: str(uuid.uuid4()))  # that sample's id here

    # --- getting there ---

    def sample(self, name: str) -> dict[str, Any]:
        """A sample's session file. The full run has another id in each test: the server may still
        be busy with that of the test before.
        """
        document: dict[str, Any] = json.loads((SAMPLES / f"{name}.ebbline.json").read_bytes())
        if name == "full-run":
            document["session"]["id"] = self.full_run
        return document

    def bring_in(self, sample: str | dict[str, Any]) -> str:
        """Give the server a sample, as it is or changed, by its API; answers with its id."""
        document = self.sample(sample) if isinstance(sample, str) else sample
        request = urllib.request.Request(
            f"{self.url}/api/sessions/import",
            data=json.dumps(document).encode(),
            headers={"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
            return str(json.load(answer)["id"])

    def open_list(self) -> None:
        self.page.goto(f"{self.url}/desk")
        self.page.locator(".session-table[aria-busy=false]").wait_for()

    def open_session(self, session_id: str) -> None:
        """Open a session and wait until its charts are drawn."""
        self.page.goto(f"{self.url}/desk?session={session_id}")
        self.wait_drawn()

    def parts(self) -> list[str]:
        """Anchors of the parts that a session's page can be turned to, in their order."""
        links = self.page.locator(".parts a:not([hidden])").all()
        return [str(link.get_attribute("href")).removeprefix("#") for link in links]

    def turn_to(self, part: str) -> None:
        """Open one of the parts of a session's page."""
        self.page.locator(f".parts a[href='#{part}']").click()
        expect(self.page.locator(f"#{part}")).to_be_visible()

    def wait_drawn(self) -> None:
        self.page.locator(".session[aria-busy=false]").wait_for()
        until(
            self.page,
            "() => Number(document.querySelector('#timeline .strip').dataset.drawn ?? 0) > 0",
        )

    def says(self, path: str) -> Any:
        """What the server's API answers."""
        with urllib.request.urlopen(f"{self.url}/api{path}", timeout=LONGEST_S) as answer:
            return json.load(answer)

    def send_events(self, session_id: str, *events: dict[str, Any]) -> None:
        """Add events as another device or desk does, past this page."""
        request = urllib.request.Request(
            f"{self.url}/api/sessions/{session_id}/records",
            data=json.dumps({"device": "other", "events": list(events)}).encode(),
            headers={"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
            assert json.load(answer)["refused"] == []

    # --- what the page shows ---

    def headline(self, key: str) -> str:
        return text_of(self.page.locator(f"[data-figure={key}] .figure"))

    def readout(self, name: str) -> str:
        """A figure at the cursor, which the page follows once a frame."""
        self.page.evaluate("() => new Promise((drawn) => requestAnimationFrame(drawn))")
        return text_of(self.page.locator(f".readout-{name} dd"))

    def row(self, event_id: str) -> Locator:
        return self.page.locator(f"#ladder tr[data-event-id='{event_id}']")

    def wait_saved(self, form: str) -> str:
        """Until a form says that its record is held and the figures have followed."""
        status = self.page.locator(f"{form} .entry-form .form-status")
        self.page.locator(f"{form} .entry-form .form-status-good").wait_for()
        return text_of(status)


def text_of(where: Locator) -> str:
    return re.sub(r"\s+", " ", where.inner_text()).strip()


@dataclass(frozen=True, slots=True)
class Shown:
    """A figure with its interval, read back from what a person would read."""

    value: float
    low: float
    high: float
    unit: str
    last_digit: float  # what one step of the last digit is worth


def read_figure(text: str) -> Shown:
    """Take '6.42 km 6.38–6.47' apart; clock-like durations become seconds."""
    number = r"[−]?[\d\u2009]+(?::\d\d)*(?:\.\d+)?"
    match = re.fullmatch(rf"({number}) ?(\S.*?)? ({number})(?: to |–)({number})", text)
    assert match, f"no figure with an interval: {text!r}"
    value, low, high = (_as_number(match[group]) for group in (1, 3, 4))
    decimals = len(match[1].partition(".")[2])
    return Shown(value, low, high, match[2] or "", 10.0**-decimals)


def _as_number(text: str) -> float:
    sign = -1 if text.startswith("−") else 1
    total = 0.0
    for part in text.lstrip("−").replace("\u2009", "").split(":"):
        total = total * 60 + float(part)
    return sign * total


def _context(browser: Browser, dark: bool = False) -> BrowserContext:
    context = browser.new_context(
        viewport=SCREEN, color_scheme="dark" if dark else "light", accept_downloads=True
    )
    context.set_default_timeout(WAIT_MS)
    return context


@pytest.fixture(scope="session")
def lasting_page(browser: Browser) -> Iterator[Page]:
    """A page for one desk after the other: a session opens in it for half the work that a new
    browser has with it.
    """
    context = _context(browser)
    yield context.new_page()
    context.close()


@contextlib.contextmanager
def sitting_at(page: Page, console: ConsoleWatch, server: LiveServer) -> Iterator[Desk]:
    """A desk in that page at which nobody sat before; one that changes what the browser itself is
    or runs needs ``new_desk``.
    """
    page.set_viewport_size(SCREEN)
    page.mouse.move(0, 0)
    console.watch(page)
    yield Desk(page, server.url)
    page.unroute_all()
    page.goto(f"{server.url}/shared/rules.js")  # a page of another place would take a new process
    page.evaluate("localStorage.clear()")
    console.leave(page)


@pytest.fixture
def desk(lasting_page: Page, console: ConsoleWatch, live_server: LiveServer) -> Iterator[Desk]:
    with sitting_at(lasting_page, console, live_server) as desk:
        yield desk


@pytest.fixture(scope="class")
def class_console() -> Iterator[ConsoleWatch]:
    """Fails a class of tests at its end when its page complained unexpectedly."""
    watch = ConsoleWatch()
    yield watch
    assert watch.unexpected() == []


@pytest.fixture(scope="class")
def class_desk(
    lasting_page: Page, class_console: ConsoleWatch, lasting_server: LiveServer
) -> Iterator[Desk]:
    """A desk for a class of tests, on a server that holds nothing yet."""
    lasting_server.renew()
    with sitting_at(lasting_page, class_console, lasting_server) as desk:
        yield desk


@pytest.fixture(scope="class")
def opened(class_desk: Desk) -> Desk:
    """A desk on which the full run is open, for a class of tests, each of which leaves the page as
    it found it.
    """
    class_desk.bring_in("full-run")
    class_desk.open_session(class_desk.full_run)
    return class_desk


@pytest.fixture
def new_desk(
    browser: Browser, console: ConsoleWatch, live_server: LiveServer
) -> Iterator[Callable[..., Desk]]:
    """Makes desks with a browser that has never been here."""
    contexts: list[BrowserContext] = []

    def make(dark: bool = False) -> Desk:
        context = _context(browser, dark)
        contexts.append(context)
        page = context.new_page()
        console.watch(page)
        return Desk(page, live_server.url)

    yield make
    for context in contexts:
        context.close()
