"""Someone with a phone in the car: touches it, and takes down what its screen says."""

from __future__ import annotations

import json
import math
import random
import time
from typing import Any

from browser.conftest import ConsoleWatch, Phone
from patience import LONGEST_S
from playwright.sync_api import BrowserContext, CDPSession, Page
from playwright.sync_api import Error as BrowserError
from playwright.sync_api import TimeoutError as BrowserTimeoutError

from .ledger import Ledger

SIMPLE_KEYS = (
    "zero_soc", "zero_range", "trip_reset", "floored", "power_limited", "propulsion_off",
    "standstill", "contactors_open", "contactors_closed", "plug_in",
    "charge_start", "charge_end", "lap_mark",
)  # fmt: skip
ASKING = {
    "warning": ("charge_now", "range_low", "power_reduced", "stop_soon", "other"),
    "hazards_on": ("car", "crew"),
    "comfort_cut": ("climate car", "climate crew", "lights"),
}
QUANTITIES = ("soc", "range_shown", "trip_energy", "trip_distance", "power_available")
SAME_KEY_AGAIN_S = 1.1  # what a drive reaches once bounces for a second
REACH_MS = 1500  # then the keys have moved, and it is looked for anew
MOMENT_RUNS_OUT_MS = 8000  # of the reading pad, without a stroke
STORAGE_BYTES = 8_000_000  # of the phone, so that it can be filled up
METRES_PER_DEGREE = 111_195.0  # of latitude on a sphere of 6 371 km; a mock needs no more

# Reports every touch of a key and every word of the status line the moment it stands there.
# `shiftClock` sets the wall clock of this and all later loads of the page.
WATCH = """(() => {
  if (location.protocol !== "http:") return;
  const load = performance.timeOrigin;
  const report = (what) => globalThis.faultsTell?.(JSON.stringify({ load, ...what }));
  addEventListener("pointerdown", (event) => {
    if (event.target.closest?.(".digits .key")) {
      report({ touched: "digit", mono_ms: Math.round(event.timeStamp) });
    }
    const touched = event.target.closest?.("[data-key], .undo");
    if (!touched || touched.disabled) return;
    const key = touched.dataset.key ?? "undo";
    const offered = touched.getAttribute("aria-label");
    const line = document.querySelector(".drive .said")?.textContent;
    report({ touched: key, offered, line, mono_ms: Math.round(event.timeStamp) });
  }, true);
  let last = "";
  new MutationObserver(() => {
    const said = document.querySelector(".drive .said")?.textContent ?? "";
    if (said !== last) report({ said: last = said });
  }).observe(document, { subtree: true, childList: true, characterData: true });
  const now = Date.now.bind(Date);
  let shift_ms = Number(localStorage.getItem("faults.shift_ms") ?? 0);
  Date.now = () => now() + shift_ms;
  globalThis.shiftClock = (ms) => {
    shift_ms += ms;
    localStorage.setItem("faults.shift_ms", String(shift_ms));
  };
  let hidden = false;
  Object.defineProperty(document, "visibilityState", { get: () => hidden ? "hidden" : "visible" });
  globalThis.hidePage = (hide) => {
    hidden = hide;
    document.dispatchEvent(new Event("visibilitychange"));
  };
})()"""

# Until not even a hundred bytes fit.
FILL_STORAGE = """async () => {
  const db = await new Promise((resolve) => {
    const request = indexedDB.open("ballast");
    request.onupgradeneeded = () => request.result.createObjectStore("b", { autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
  });
  const fits = (size) => new Promise((resolve) => {
    const tx = db.transaction("b", "readwrite");
    tx.oncomplete = () => resolve(true);
    tx.onabort = () => resolve(false);
    const noise = crypto.getRandomValues(new Uint8Array(Math.min(size, 65536)));
    tx.objectStore("b").add(new Uint8Array(size).map((_, i) => noise[i % 65536]));
  });
  for (const size of [500000, 50000, 5000, 500, 100]) while (await fits(size));
  db.close();
}"""

# The page's own memory, beside the page: fetched while there is a network, and kept by the browser
# for good under its version.
FETCH_STORE = """() => {
  const main = document.querySelector("script[type=module]").src;
  globalThis.faultsStore = import(new URL("./storage/store.js", main));
  return globalThis.faultsStore.then(() => true);
}"""

# What the phone holds that is to be heard.
SPOKEN = """() => new Promise((resolve) => {
  indexedDB.open("ebbline-capture").onsuccess = ({ target: { result: db } }) => {
    db.transaction("photos").objectStore("photos").getAll().onsuccess = ({ target }) => {
      db.close();
      resolve(target.result.filter(({ media_type: type }) => type.startsWith("audio/"))
        .map(({ session, sha256 }) => [session, sha256]));
    };
  };
})"""

TAKE_PICTURE = """async ([session, colour]) => {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 64;
  const pen = canvas.getContext("2d");
  pen.fillStyle = colour;
  pen.fillRect(0, 0, 64, 64);
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg"));
  const store = (await globalThis.faultsStore).openStore({ indexedDB });
  const row = await store.addPhoto({
    session_id: session, event_id: null, t_ms: Date.now(), device: await store.meta("device"),
    media_type: "image/jpeg", bytes: await blob.arrayBuffer(),
  });
  return row.sha256;
}"""


class Passenger:
    """One tab of one phone."""

    def __init__(
        self, context: BrowserContext, url: str, chance: random.Random, ledger: Ledger
    ) -> None:
        self.context = context
        self.url = url
        self.chance = chance
        self.ledger = ledger
        self.console = ConsoleWatch()
        self.session = ""
        self.room_bytes = STORAGE_BYTES
        self._last_key = ""
        self._touched_s: dict[str, float] = {}
        self._read_touch = (0, 0.0)
        self._stroke_ms = 0
        self._north_m = 0.0

    # --- the page ---

    def open(self) -> None:
        """A new tab on the capture page."""
        self.context.grant_permissions(["geolocation", "microphone"], origin=self.url)
        page = self.context.new_page()
        page.set_default_timeout(1000 * LONGEST_S)
        page.set_viewport_size({"width": 360, "height": 740})
        self.devtools: CDPSession = self.context.new_cdp_session(page)
        self.devtools.on("Runtime.bindingCalled", self._told)
        self.devtools.send("Runtime.enable")
        self.devtools.send("Runtime.addBinding", {"name": "faultsTell"})
        page.add_init_script(WATCH)
        self.page: Page = page
        self.phone = Phone(self.context, page, self.url, self.console)
        self._limit_storage()
        self.fix()
        page.goto(f"{self.url}/capture")
        page.wait_for_selector("main")
        page.evaluate(FETCH_STORE)

    def start_session(self) -> None:
        """From the first page to the drive page of a new session."""
        self.page.click("[data-action=create]")
        self.page.fill("#setup-vehicle", "Grey test car")
        self.page.fill("#setup-course", "North ring")
        self.page.click("main button[type=submit]")
        self.accept_cautions()

    def accept_cautions(self) -> None:
        self.page.wait_for_selector("main.checklist")
        for box in self.page.query_selector_all(".cautions input"):
            box.check()
        self.page.click("[data-action=start]")
        self.page.wait_for_selector("main.drive")
        self.session = self.page.evaluate(RUNNING)

    def end_recording(self) -> None:
        self._settle_keys()
        self.page.locator(".bar button", has_text="Menu").click()
        self.page.get_by_role("button", name="End recording").click()
        self.page.get_by_role("button", name="End it").click()
        self.page.wait_for_selector("main.sessions")

    def stored(self) -> dict[str, list[dict[str, Any]]]:
        """What the phone holds of this session."""
        rows = self.phone.stored()
        return {
            name: [row for row in rows[name] if self.session in (row.get("session"), row.get("id"))]
            for name in ("sessions", "records", "fixes", "photos")
        }

    def come_back(self) -> None:
        """Open the page again after it died: it must go straight back into the run."""
        self.open()
        self.page.wait_for_selector("main.drive")

    def wait(self, seconds: float) -> None:
        """The page runs on, and the car drives."""
        stop_at = time.monotonic() + seconds
        while (left := stop_at - time.monotonic()) > 0:
            self.fix()
            self.page.wait_for_timeout(min(left, 1.0) * 1000)

    def fix(self) -> None:
        """One more position, never the same twice."""
        self._north_m += self.chance.uniform(2.0, 6.0)
        self.devtools.send(
            "Emulation.setGeolocationOverride",
            {
                "latitude": 47.0 + self._north_m / METRES_PER_DEGREE,
                "longitude": 8.0 + math.sin(self._north_m / 300) / 1000,
                "accuracy": 4.0,
                "speed": 15.0,
                "heading": 0.0,
            },
        )

    # --- what a passenger does ---

    def act(self, times: int = 1, *, bold: bool = False) -> None:
        """Something of what a passenger does; boldly means without waiting for the screen."""
        for _ in range(times):
            deed = self.chance.choices(
                [self._tap, self._warn, self._step, self._read, self._undo, self._picture],
                weights=[10, 3, 2, 3, 1, 1],
            )[0]
            deed(bold)
            self.fix()

    def act_until_unstored(self) -> None:
        """Tap while nothing can be stored, until the screen says that it isn't."""
        before = self.ledger.unstored
        stop_at = time.monotonic() + LONGEST_S
        while self.ledger.unstored == before:
            assert time.monotonic() < stop_at, "storage is full, but the screen never says so"
            self._tap(bold=False)

    def wait_until_stored_again(self) -> None:
        stop_at = time.monotonic() + LONGEST_S
        while any(one.state == "in memory" for one in self.ledger.attempts):
            if time.monotonic() > stop_at:
                raise AssertionError(f"still in memory only; the screen says '{self.phone.said()}'")
            self.wait(0.1)

    def _tap(self, bold: bool) -> None:
        key = self.chance.choice([one for one in SIMPLE_KEYS if one != self._last_key])
        self._last_key = key
        self._settle_keys()
        self._press(key)
        self._answer(bold)

    def _warn(self, bold: bool) -> None:
        self._settle_keys()
        key = self.chance.choice([*ASKING])
        self._press(key)
        if not self._asked(".choices"):
            return
        if bold and self.chance.random() < 0.5:
            return  # the question is still open when the fault strikes
        if self.chance.random() < 0.3:
            self.page.locator(".sheet .cross").click()
        else:
            word = self.chance.choice(ASKING[key])
            self.page.locator(f".choices [data-choice='{word}']").click()
        self._answer(bold)

    def _step(self, bold: bool) -> None:
        self._settle_keys()
        self._press("soc_step")
        if not self._asked(".stepper .store"):
            return
        if bold and self.chance.random() < 0.5:
            return
        self.page.locator(".stepper .store").click()
        self._answer(bold)

    def _read(self, bold: bool) -> None:
        self._settle_keys()
        self.page.locator("[data-key=read]").click()
        self.page.wait_for_timeout(1)
        quantity = self.chance.choice(QUANTITIES)
        value = self.chance.randint(1, 60)
        in_row = self.page.locator(f".tabs [data-quantity={quantity}]")
        if in_row.count():
            in_row.click()
        else:
            self.page.locator(".pad .tab", has_text="Other").click()
            self.page.locator(f".tiles [data-quantity={quantity}]").click()
        for digit in str(value):
            self.page.locator(f".digits [aria-label='{digit}']").click()
        self.ledger.typed(quantity, value, *self._read_touch)
        self.page.locator(".pad .store").click()
        self._answer(bold)
        if not bold:
            self._settle_keys()

    def _undo(self, bold: bool) -> None:
        undo = self.page.locator(".undo")
        if not undo.is_enabled():
            return
        self._settle_keys()
        self.page.wait_for_timeout(SAME_KEY_AGAIN_S * 1000)
        try:
            undo.click(timeout=REACH_MS)
        except BrowserTimeoutError:
            return  # by now the line names nothing to take back
        self._answer(bold)

    def _picture(self, bold: bool) -> None:
        colour = f"rgb({', '.join(str(self.chance.randint(0, 255)) for _ in range(3))})"
        self.page.evaluate(FETCH_STORE)
        sha256 = self.page.evaluate(TAKE_PICTURE, [self.session, colour])
        self.ledger.pictures.append(sha256)

    def speak(self) -> None:
        """Until the page listens; the first time it asks whether all agree."""
        self._settle_keys()
        voice = self.page.locator("[data-key=voice]")
        voice.click()
        agree = self.page.locator(".sheet.listen .key", has_text="All agree")
        listens = self.page.locator("[data-key=voice].listens")
        stop_at = time.monotonic() + LONGEST_S
        while not listens.count():
            if agree.count():
                agree.click()
            assert time.monotonic() < stop_at, f"it doesn't listen: '{self.phone.said()}'"
            self.page.wait_for_timeout(50)

    def stop_speaking(self) -> None:
        """Until the phone says that the note is stored, or stores it without a word of it."""
        before = len(self._spoken())
        self._settle_keys()
        self.page.locator("[data-key=voice]").click()
        stop_at = time.monotonic() + LONGEST_S
        while len(held := self._spoken()) == before:
            assert time.monotonic() < stop_at, f"no note is stored: '{self.phone.said()}'"
            self.wait(0.1)
        self.ledger.pictures += [sha256 for sha256 in held if sha256 not in self.ledger.pictures]

    def _spoken(self) -> list[str]:
        rows = self.page.evaluate(SPOKEN)
        return [sha256 for session, sha256 in rows if session == self.session]

    def _press(self, key: str) -> None:
        """Touch a key, wherever the phase has put it; keys may move while the hand does."""
        since_s = time.monotonic() - self._touched_s.get(key, 0.0)
        if since_s < SAME_KEY_AGAIN_S:
            self.page.wait_for_timeout((SAME_KEY_AGAIN_S - since_s) * 1000)
        stop_at = time.monotonic() + LONGEST_S
        while time.monotonic() < stop_at:
            in_reach = self.page.locator(f".keys [data-key={key}]")
            try:
                if in_reach.count():
                    in_reach.click(timeout=REACH_MS)
                    return
                self.page.locator(".bar button", has_text="More").click()
                self.page.locator(f".more [data-key={key}]").click(timeout=REACH_MS)
                return
            except BrowserTimeoutError:
                self._settle_keys()
            finally:
                self._touched_s[key] = time.monotonic()
        raise AssertionError(f"the key {key} can't be reached")

    def _asked(self, sheet: str) -> bool:
        """Whether the touch brought its question; not when the buttons had just changed."""
        stop_at = time.monotonic() + LONGEST_S
        while not self.page.locator(sheet).count():
            if self.phone.said().startswith("Not recorded"):
                return False
            if time.monotonic() > stop_at:
                raise AssertionError(f"no {sheet}; the screen says '{self.phone.said()}'")
            self.page.wait_for_timeout(20)
        return True

    def _settle_keys(self) -> None:
        """Close what covers the keys, and let go of one before it is touched again."""
        cross = self.page.locator(".sheet .cross")
        if cross.count():
            cross.first.click()
        self.page.wait_for_timeout(300 * self.chance.random())

    def _answer(self, bold: bool) -> None:
        """Wait until the screen says what became of it, as a careful passenger does."""
        if bold:
            return
        stop_at = time.monotonic() + LONGEST_S
        while self.phone.said().startswith(("Storing", "Undoing")):
            if time.monotonic() > stop_at:
                raise AssertionError(f"the screen stays at '{self.phone.said()}'")
            self.page.wait_for_timeout(20)

    # --- what is done to the phone ---

    def _limit_storage(self) -> None:
        limit = {"origin": self.url, "quotaSize": self.room_bytes}
        self.devtools.send("Storage.overrideQuotaForOrigin", limit)

    def fill_storage(self) -> None:
        """Something else takes all the room that there is."""
        self.page.evaluate(FILL_STORAGE)

    def free_storage(self) -> None:
        """There is room again: more than before, as browsers free what is deleted late."""
        self.room_bytes *= 4
        self._limit_storage()

    def shift_clock(self, hours: int) -> None:
        self.page.evaluate("(ms) => shiftClock(ms)", hours * 3_600_000)

    def hide(self, hidden: bool) -> None:
        self.page.evaluate("(hidden) => hidePage(hidden)", hidden)

    def network_came_back(self) -> None:
        """What a phone tells the page when it has a network again."""
        self.page.evaluate("() => dispatchEvent(new Event('online'))")

    def scan(self, token: str) -> None:
        """The phone's camera opens the address of a code."""
        self.page.evaluate("(token) => { location.hash = `join=${token}`; }", token)
        stop_at = time.monotonic() + LONGEST_S
        while "#" in self.page.url:  # it must not stay in the address
            assert time.monotonic() < stop_at, "the token stays in the address"
            self.page.wait_for_timeout(20)

    def wait_shut_out(self) -> None:
        """Until the screen says that the server doesn't let this phone in any more."""
        stop_at = time.monotonic() + LONGEST_S
        cell = self.page.locator("[data-cell=sync] b")
        while (said := cell.inner_text()) != "no access":
            assert time.monotonic() < stop_at, f"shut out, but the strip says '{said}'"
            self.wait(0.2)

    def crash(self) -> None:
        """The page's process ends, as when the phone is short of memory."""
        try:
            self.page.goto("chrome://crash", timeout=5000)
        except BrowserError:
            pass  # that it ended
        self.page.close()

    # --- what the page tells us ---

    def _told(self, event: dict[str, Any]) -> None:
        if event["name"] != "faultsTell":
            return
        told = json.loads(event["payload"])
        if "said" in told:
            self.ledger.heard(told["said"], told["load"])
        elif told["touched"] == "undo":
            self.ledger.undone(told["offered"], told["line"])
        elif told["touched"] == "read":
            self._read_touch = (told["mono_ms"], told["load"])
            self._stroke_ms = told["mono_ms"]
        elif told["touched"] == "digit":  # after a pause it takes a moment of its own
            if told["mono_ms"] - self._stroke_ms > MOMENT_RUNS_OUT_MS:
                self._read_touch = (told["mono_ms"], told["load"])
            self._stroke_ms = told["mono_ms"]
        else:
            self.ledger.touched(told["touched"], told["mono_ms"], told["load"])


RUNNING = """() => new Promise((resolve) => {
  indexedDB.open("ebbline-capture").onsuccess = (event) => {
    const db = event.target.result;
    const request = db.transaction("meta").objectStore("meta").get("running");
    request.onsuccess = () => { db.close(); resolve(request.result); };
  };
})"""
