"""A real Chromium for the tests: found on the machine, never fetched."""

from __future__ import annotations

import base64
import hashlib
import json
import math
import os
import re
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from patience import LONGEST_S, T, wait_for
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Error,
    Geolocation,
    Page,
    Playwright,
    expect,
    sync_playwright,
)
from programs import NO_CHROMIUM, find_chromium
from server_process import LiveServer

from ebbline.vocabulary import reading_name

QUIET = (
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
MEDIA = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
WAIT_MS = 1000 * LONGEST_S
expect.set_options(timeout=WAIT_MS)
KEYS_REFUSE_MS = 400  # a touch where they have just moved
METRES_PER_DEGREE = 111_195.0  # of latitude on a sphere of 6 371 km; a mock needs no more


def starting(words: str) -> re.Pattern[str]:
    """For `expect`: a text that begins so."""
    return re.compile(f"^{re.escape(words)}")


def chromium_program(shell: bool = False) -> str:
    """The browser's program; the test fails with instructions when there is none."""
    found = find_chromium(shell)
    if found is None:
        pytest.fail(NO_CHROMIUM)
    return str(found)


def chromium_arguments() -> list[str]:
    """Quiet, and without the sandbox where root makes it impossible."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    return [*QUIET, *(["--no-sandbox"] if root else [])]


def trust_argument(server: LiveServer) -> str:
    """Has the browser trust a server's certificate, as installing its authority would."""
    leaf = x509.load_pem_x509_certificate((server.data / "tls" / "server.pem").read_bytes())
    spki = leaf.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    pin = base64.b64encode(hashlib.sha256(spki).digest()).decode()
    return f"--ignore-certificate-errors-spki-list={pin}"


@pytest.fixture(scope="session")
def player() -> Iterator[Playwright]:
    with sync_playwright() as player:
        yield player


@pytest.fixture(scope="session")
def browser(player: Playwright) -> Iterator[Browser]:
    """Chromium's headless shell where there is one: the same engine without the toolbar, which is
    a page too and takes as long again.
    """
    program = chromium_program(shell=True)
    browser = player.chromium.launch(executable_path=program, args=chromium_arguments())
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def media_browser(player: Playwright) -> Iterator[Browser]:
    """One with a camera and a microphone, Chromium's own test devices: a disc that turns, a beep
    each second.
    """
    browser = player.chromium.launch(
        executable_path=chromium_program(shell=True), args=[*chromium_arguments(), *MEDIA]
    )
    yield browser
    browser.close()


def until(page: Page, script: str, argument: object = None) -> None:
    """Wait until the script says true. Playwright's own waiting needs an eval that our content
    security policy refuses.
    """
    wait_for(
        f"{script} {argument or ''}",
        lambda: page.evaluate(script, argument),
        lambda: page.wait_for_timeout(50),
    )


def later(page: Page, seconds: float) -> None:
    """Let time pass by the page's clocks, in no time."""
    page.evaluate(
        """(ms) => {
          const [wall, mono] = [Date.now.bind(Date), performance.now.bind(performance)];
          Date.now = () => wall() + ms;
          performance.now = () => mono() + ms;
        }""",
        1000 * seconds,
    )


def worked_ms(page: Page) -> Callable[[], float]:
    """Reads the processor time that the page's main thread has used so far, which other programs
    on the machine hardly stretch.
    """
    devtools = page.context.new_cdp_session(page)
    devtools.send("Performance.enable", {"timeDomain": "threadTicks"})

    def read() -> float:
        metrics = devtools.send("Performance.getMetrics")["metrics"]
        return next(1000 * one["value"] for one in metrics if one["name"] == "TaskDuration")

    return read


@dataclass
class ConsoleWatch:
    """Collects what pages complain of; a test names what it provokes on purpose."""

    complaints: list[str] = field(default_factory=list)
    allowed: list[str] = field(default_factory=list)

    def watch(self, page: Page) -> None:
        page.on("console", self._hear)
        page.on("pageerror", self._note_uncaught)

    def leave(self, page: Page) -> None:
        """Watch a page no more, which goes on to another test."""
        page.remove_listener("console", self._hear)
        page.remove_listener("pageerror", self._note_uncaught)

    def allow(self, *parts: str) -> None:
        """Expect complaints that contain one of these."""
        self.allowed.extend(parts)

    def unexpected(self) -> list[str]:
        return [one for one in self.complaints if not any(part in one for part in self.allowed)]

    def _hear(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.complaints.append(message.text)

    def _note_uncaught(self, error: Error) -> None:
        self.complaints.append(f"uncaught: {error}")


@pytest.fixture
def console() -> Iterator[ConsoleWatch]:
    """Fails the test at its end when a watched page complained unexpectedly."""
    watch = ConsoleWatch()
    yield watch
    assert watch.unexpected() == []


@dataclass(slots=True)
class Phone:
    """A phone with our capture page, as a passenger uses it."""

    context: BrowserContext
    page: Page
    url: str
    console: ConsoleWatch

    def __post_init__(self) -> None:
        self.page.add_init_script(HEAR)

    # --- on the way to the drive page ---

    def open(self) -> None:
        """Open the page and wait until it would also open without a network."""
        self.page.goto(f"{self.url}/capture")
        self.page.wait_for_selector("main")
        until(self.page, "() => navigator.serviceWorker.controller !== null")

    def make_session(self, title: str = "Evening run", lap_m: float = 1000) -> None:
        """Fill in the set-up and stop at the checklist. Field by field would take three times the
        work, and so would the cautions' boxes; ``test_capture_use`` does it by hand.
        """
        self.page.tap("[data-action=create]")
        texts = {
            "title": title,
            "vehicle": "Grey test car",
            "usable_kwh": "58",
            "course": "North ring",
            "surveyed_lap_m": str(lap_m),
        }
        self.page.wait_for_selector("main.setup")
        self.page.evaluate(FILL, texts)
        self.page.tap("main button[type=submit]")
        self.page.wait_for_selector("main.checklist")

    def accept_cautions(self, action: str = "start") -> None:
        """Start the recording, or with ``laps-first`` the lap check in it."""
        self.page.evaluate(TICK)
        self.page.tap(f"[data-action={action}]")
        self.page.wait_for_selector("main.drive")

    def drive(self, title: str = "Evening run") -> None:
        """All the way to the drive page."""
        self.open()
        self.make_session(title)
        self.accept_cautions()

    # --- on the drive page ---

    def said(self) -> str:
        """What the status line says now."""
        return self.page.locator(".drive .said").inner_text()

    def wait_for(self, what: str | Callable[[], str], look: Callable[[], T]) -> T:
        """Look until there is something, while the page goes on."""
        return wait_for(what, look, lambda: self.page.wait_for_timeout(100))

    def wait_said(self, part: str) -> str:
        """Until the line has said this since the last key was pressed, even if it says something
        else by now; gives the whole line.
        """
        return str(
            self.wait_for(f"the words {part}", lambda: self.page.evaluate(HEARD, [part, ""]))
        )

    def wait_stored(self, part: str) -> str:
        """Until the line has confirmed a record in these words."""
        return str(
            self.wait_for(f"Stored {part}", lambda: self.page.evaluate(HEARD, [part, "Stored"]))
        )

    def wait_status(self, part: str) -> str:
        """Until the sheet of the phone's state says this; gives all it says. It is opened anew each
        time: it shows the state at its opening.
        """

        def words() -> str | None:
            self.page.locator(".strip").first.click()
            said = self.page.locator(".status-sheet").inner_text()
            self.page.locator(".sheet .cross").tap()
            return said if part in said else None

        return str(self.wait_for(f"a state that says {part}", words))

    def press(self, key: str) -> None:
        """Touch a key, wherever the phase has put it; its confirmation is not awaited."""
        self.page.evaluate("() => { window.heardFrom = Math.max(0, window.heard.length - 1); }")
        in_reach = self.page.locator(f".keys [data-key={key}]")
        if in_reach.count():
            in_reach.tap()
        else:
            self.page.locator(".bar button", has_text="More").tap()
            self.page.locator(f".more [data-key={key}]").tap()

    def choose(self, word: str) -> None:
        """Touch a tile of the question that a tap asks, by the words it stores."""
        self.page.locator(f".choices [data-choice='{word}']").tap()

    def step_to(self, value: int) -> None:
        """Work the stepper until it shows the value, then store."""
        output = self.page.locator(".stepper-value")
        for _ in range(60):
            short = value - int(output.inner_text().split("\u00a0")[0])
            if short == 0:
                break
            step = 5 if abs(short) >= 5 else 1
            word = "More" if short > 0 else "Less"
            self.page.locator(f"[aria-label='{word} by {step}']").tap()
        self.page.locator(".stepper .store").tap()

    def figure(self, quantity: str) -> None:
        """Turn the open pad to a quantity."""
        pad = self.page.locator(".pad")
        pad.wait_for()
        in_row = pad.locator(f".tabs [data-quantity={quantity}]")
        if in_row.count():
            in_row.tap()
        else:
            pad.locator(".tab", has_text="Other").tap()
            pad.locator(f".tiles [data-quantity={quantity}]").tap()

    def type_figure(self, digits: str) -> None:
        for digit in digits:
            name = "Decimal point" if digit == "." else digit
            self.page.locator(f".digits [aria-label='{name}']").tap()

    def note_display(self, figures: dict[str, str]) -> None:
        """Open the pad once and enter several figures."""
        self.page.locator("[data-key=read]").tap()
        for quantity, digits in figures.items():
            self.figure(quantity)
            self.type_figure(digits)
            self.page.locator(".pad .store").tap()
            self.wait_stored(reading_name(quantity))
        self.close_sheet()

    def close_sheet(self) -> None:
        """Close what is open, or leave its question; the pad ends with its row."""
        if self.page.locator(".sheet .cross").count():
            self.page.locator(".sheet .cross").tap()

    def wait_fixes(self, count: int = 1) -> None:
        """Until so many positions are in the phone's database."""
        self.wait_for(f"{count} positions", lambda: self.fix_count() >= count)

    def fix_count(self) -> int:
        return sum(len(chunk["columns"]["seq"]) for chunk in self.stored()["fixes"])

    def wait_placed(self, phase: str) -> None:
        """Until the keys stand where a phase wants them, none shows a touch any more, and those
        that have moved take touches again.
        """
        until(self.page, PLACED, phase)
        self.page.wait_for_timeout(KEYS_REFUSE_MS)

    def wait_lost(self) -> None:
        """Until the page misses the position."""
        words = "() => document.querySelector('[data-cell=gps] b').textContent.startsWith('lost')"
        until(self.page, words)

    def wait_at_rest(self) -> None:
        """Until no key flashes and nothing fades or moves."""
        until(self.page, AT_REST)

    def undo(self) -> None:
        self.page.locator(".undo").tap()

    def wait_synced(self) -> None:
        """Until nothing at all is unsent, the track included."""

        def unsent() -> list[dict[str, Any]]:
            rows = self.stored()
            kept = rows["records"] + rows["fixes"] + rows["photos"]
            setups = [row for row in rows["sessions"] if row["setup_unsent"]]
            return setups + [row for row in kept if row["state"] in {"unsent", "draft"}]

        self.wait_for(lambda: f"an end of {unsent()[:3]}", lambda: not unsent())

    def come_online(self) -> None:
        """As when the network is back: what waits is sent at once."""
        self.page.evaluate("() => dispatchEvent(new Event('online'))")

    def send_all(self) -> None:
        """Until all is sent, for tests to which its usual pauses say nothing."""
        self.come_online()
        self.wait_synced()

    # --- what it holds ---

    def stored(self) -> dict[str, list[dict[str, Any]]]:
        """Everything in the phone's database, past our own code."""
        held: dict[str, list[dict[str, Any]]] = self.page.evaluate(READ_ALL)
        return held

    def session_id(self) -> str:
        rows = self.stored()["sessions"]
        assert len(rows) == 1
        return str(rows[0]["id"])

    def taps(self) -> list[dict[str, Any]]:
        """Stored events and readings in the order taken, the phone's own log left out."""
        return taps_among(self.stored()["records"])


def taps_among(records: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Events and readings in the order taken, the phone's own log left out."""
    rows = sorted(records, key=lambda row: row["stored_ms"])
    docs = [row["doc"] for row in rows if row["type"] in {"event", "reading"}]
    return [doc for doc in docs if "log" not in doc]


FILL = """(texts) => {
  for (const [name, text] of Object.entries(texts)) {
    const field = document.querySelector(`#setup-${name}`);
    field.focus();
    field.value = text;
    field.dispatchEvent(new InputEvent("input", { bubbles: true }));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
}"""

TICK = """() => {
  for (const box of document.querySelectorAll(".cautions input")) if (!box.checked) box.click();
}"""

# What the status line said, each of its words once: they may be gone when a test looks.
HEAR = """
window.heard = [];
window.heardFrom = 0;
new MutationObserver(() => {
  const said = document.querySelector(".drive .said")?.textContent;
  if (said !== undefined && said !== window.heard.at(-1)) window.heard.push(said);
}).observe(document, { subtree: true, childList: true, characterData: true });
"""

HEARD = """([part, start]) => {
  const found = window.heard.findIndex((said, i) =>
    i >= window.heardFrom && said.startsWith(start) && said.includes(part));
  if (found < 0) return null;
  window.heardFrom = found;
  return window.heard[found];
}"""

# A second watch beside the app's own, which is told of each position at the same time.
WATCH_TOO = """() => navigator.geolocation.watchPosition((position) => {
  window.seen = position.coords.latitude;
})"""

# No key flashes, and nothing fades or moves; what runs for ever aside.
AT_REST = """() => !document.querySelector(".key[data-state]") && document.getAnimations()
  .every((one) => one.playState !== "running" || one.effect.getTiming().iterations === Infinity)"""

PLACED = """async (phase) => {
  const { keysOf } = await import("/capture/drive/taps.js");
  const keys = [...document.querySelectorAll(".keys .key")];
  return `${keys.map((key) => key.dataset.key)}` === `${keysOf(phase)}`
    && keys.every((key) => !key.dataset.state);
}"""

READ_ALL = """() => new Promise((resolve, reject) => {
  const request = indexedDB.open("ebbline-capture");
  request.onerror = () => reject(request.error);
  request.onsuccess = () => {
    const db = request.result;
    const held = {};
    const names = ["sessions", "records", "fixes", "setups", "photos"];
    const tx = db.transaction(names, "readonly");
    for (const name of names) {
      tx.objectStore(name).getAll().onsuccess = (event) => { held[name] = event.target.result; };
    }
    tx.oncomplete = () => { db.close(); resolve(held); };
  };
})"""

# What the phone keeps beside its records: rows, and their bytes in the same order.
READ_PHOTOS = """() => new Promise((resolve) => {
  indexedDB.open("ebbline-capture").onsuccess = (event) => {
    const db = event.target.result;
    const tx = db.transaction(["photos", "photo_bytes"], "readonly");
    const held = {};
    tx.objectStore("photos").getAll().onsuccess = (e) => { held.rows = e.target.result; };
    tx.objectStore("photo_bytes").getAll().onsuccess = (e) => {
      held.bytes = e.target.result.map((one) => [...new Uint8Array(one)]);
    };
    tx.oncomplete = () => { db.close(); resolve(held); };
  };
})"""


class Car:
    """Moves a phone along a circle in real time by mocked GPS, one fix each quarter second."""

    radius_m = 500.0
    every_s = 0.25

    def __init__(self, context: BrowserContext, page: Page) -> None:
        self.page = page
        self.devtools = context.new_cdp_session(page)
        self.along_m = 0.0
        self.latitude = 47.0
        self.fixes = 0
        self.longest_pause_s = 0.0
        self._last_s: float | None = None

    def roll(self, seconds: float, speed_mps: float) -> None:
        """Drive on; the page runs meanwhile. ``longest_pause_s`` tells whether the machine was too
        busy to.
        """
        until = time.monotonic() + seconds
        self.longest_pause_s = 0.0
        while time.monotonic() < until:
            self.fix(speed_mps)
            self.page.wait_for_timeout(self.every_s * 1000)

    def wait_kept(self, phone: Phone) -> None:
        """Until the last fix is in the phone's database."""

        def last() -> list[float]:
            return [chunk["columns"]["lat"][-1] for chunk in phone.stored()["fixes"]]

        phone.wait_for(lambda: f"{self.latitude} among {last()}", lambda: self.latitude in last())

    def wait_shown(self, phone: Phone) -> None:
        """Until the page shows how sure the position is, which it does of a fresh one only."""

        def shows() -> bool:
            self.fix(0.0)
            return phone.page.locator("[data-cell=gps] b").inner_text().startswith("±")

        phone.wait_for("a fresh position", shows)

    def fix(self, speed_mps: float) -> None:
        """One fix where the car is now."""
        now_s = time.monotonic()
        if self._last_s is not None:
            self.along_m += speed_mps * (now_s - self._last_s)
            self.longest_pause_s = max(self.longest_pause_s, now_s - self._last_s)
        self._last_s = now_s
        angle = self.along_m / self.radius_m
        north_m, east_m = self.radius_m * math.sin(angle), self.radius_m * (1 - math.cos(angle))
        self.latitude = 47.0 + north_m / METRES_PER_DEGREE
        self.devtools.send(
            "Emulation.setGeolocationOverride",
            {
                "latitude": self.latitude,
                "longitude": 8.0
                + east_m / METRES_PER_DEGREE / math.cos(math.radians(self.latitude)),
                "accuracy": 4.0,
                "speed": speed_mps,
                "heading": math.degrees(angle) % 360,
            },
        )
        self.fixes += 1


@pytest.fixture(scope="session")
def capture_server(lasting_server: LiveServer) -> LiveServer:
    """The server for all tests of the phone: each session has an id of its own."""
    return lasting_server


PLACE: Geolocation = {"latitude": 47.0, "longitude": 8.0, "accuracy": 4.0}


def phone_context(
    browser: Browser, width: int = 360, height: int = 740, theme: str = "day"
) -> BrowserContext:
    """A phone's browser that has never been anywhere: touch, GPS allowed, no sound."""
    context = browser.new_context(
        viewport={"width": width, "height": height},
        has_touch=True,
        is_mobile=True,
        permissions=["geolocation"],
        geolocation=PLACE,
        accept_downloads=True,
    )
    context.set_default_timeout(WAIT_MS)
    look = json.dumps({"theme": theme, "sound": False})
    context.add_init_script(f"""
        if (location.protocol === "http:" && !localStorage.getItem("ebbline.capture")) {{
          localStorage.setItem("ebbline.capture", '{look}');
        }}""")
    return context


@pytest.fixture
def up_server(capture_server: LiveServer) -> LiveServer:
    """The same, running: a test that stopped it may have failed before it started it."""
    if not capture_server.is_up:
        capture_server.start()
    return capture_server


@pytest.fixture
def new_phone(
    browser: Browser, console: ConsoleWatch, up_server: LiveServer
) -> Iterator[Callable[..., Phone]]:
    """Makes phones that have never seen the page: 360 × 740, touch, GPS allowed."""
    contexts: list[BrowserContext] = []

    def make(
        width: int = 360, height: int = 740, theme: str = "day", url: str = up_server.url
    ) -> Phone:
        context = phone_context(browser, width, height, theme)
        contexts.append(context)
        page = context.new_page()
        console.watch(page)
        return Phone(context, page, url, console)

    yield make
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def lasting_context(browser: Browser) -> Iterator[BrowserContext]:
    """A phone's browser that lasts as long as a process of tests."""
    context = phone_context(browser)
    yield context
    context.close()


@pytest.fixture
def phone(
    lasting_context: BrowserContext, console: ConsoleWatch, up_server: LiveServer
) -> Iterator[Phone]:
    """A phone on which nothing was ever done, but which may hold the page's offline copy already:
    opening it from there takes half the work. A test of that copy, or one that changes what the
    whole browser runs, needs ``new_phone``.
    """
    context = lasting_context
    page = context.new_page()
    context.new_cdp_session(page).send(
        "Storage.clearDataForOrigin",
        {"origin": up_server.url, "storageTypes": "indexeddb,local_storage,cookies"},
    )
    console.watch(page)
    yield Phone(context, page, up_server.url, console)
    for one in context.pages:
        one.close()
    context.set_offline(False)
    context.clear_permissions()
    context.grant_permissions(["geolocation"])
    context.set_geolocation(PLACE)


@pytest.fixture(scope="module")
def modules(browser: Browser, capture_server: LiveServer) -> Iterator[Page]:
    """A page from which the app's pure modules can be imported."""
    page = browser.new_page()
    page.goto(f"{capture_server.url}/capture/records/words.js")
    yield page
    page.close()


@pytest.fixture
def server_says(capture_server: LiveServer) -> Callable[[str], Any]:
    """Asks the server's API for what it holds."""

    def ask(path: str) -> Any:
        with urllib.request.urlopen(f"{capture_server.url}/api{path}", timeout=LONGEST_S) as answer:
            return json.load(answer)

    return ask
