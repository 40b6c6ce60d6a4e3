"""The phone's page: its weight, its start, its taps and a four-hour recording.

    python tests/benchmarks/phone.py [--throttle 4] [--taps 200] [--hours 4]

A real Chromium whose page is slowed down as a mid-range phone would be (CPU throttling), the real
server, a viewport of 360 × 740. The four hours pass on a clock that runs ahead (phone_clock.js):
the page gets every fix and runs every timer, the storage every write; nothing is sent until the
end, which is the worst case for memory.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from browser.conftest import ConsoleWatch, Phone, chromium_arguments, chromium_program
from playwright.sync_api import Browser, BrowserContext, CDPSession, Page, sync_playwright
from server_process import LiveServer, new_server

from ebbline.web.packing import packed_once
from ebbline.web.pages import Pages, offline_copy, served_file

PWA = Path(__file__).parents[2] / "pwa"
FAST_CLOCK = Path(__file__).with_name("phone_clock.js")
LIMITS = {"weight_kb": 100, "start_ms": 1000, "tap_ms": 50, "memory_mb": 150}

# When the first page stands there, and how long each tap takes from the touch to 'Stored'.
WATCH = """(() => {
  globalThis.seen = { start_ms: null, taps_ms: [], frames_ms: [] };
  let touched_ms = null;
  let said = "";
  addEventListener("pointerdown", (event) => { touched_ms = event.timeStamp; }, true);
  new MutationObserver(() => {
    if (seen.start_ms === null && document.querySelector("main")) {
      seen.start_ms = -1;
      requestAnimationFrame(() => { seen.start_ms = performance.now(); });
    }
    const now = document.querySelector(".drive .said")?.textContent ?? "";
    if (now !== said && now.startsWith("Stored") && touched_ms !== null) {
      seen.taps_ms.push(performance.now() - touched_ms);
      touched_ms = null;
    }
    said = now;
  }).observe(document, { subtree: true, childList: true, characterData: true });
  globalThis.watchFrames = () => {
    let frame_ms = null;
    const frame = (now_ms) => {
      if (frame_ms !== null) seen.frames_ms.push(now_ms - frame_ms);
      frame_ms = now_ms;
      requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  };
})()"""


def weight_kb() -> float:
    """All files of the phone's page and its worker, packed as they are sent, kB (1000 bytes)."""
    page = Pages(PWA).page("capture")
    contents = [served_file(page, path) for path in page.files]
    contents.append(offline_copy(page) + (PWA / "sw.js").read_bytes())
    return sum(len(packed_once(content, "br")) for content in contents) / 1000


class Bench:
    """A phone on the drive page, and the means to slow it down and to measure."""

    def __init__(self, browser: Browser, server: LiveServer, scripts: tuple[str, ...]) -> None:
        self.context: BrowserContext = browser.new_context(
            viewport={"width": 360, "height": 740},
            has_touch=True,
            is_mobile=True,
            permissions=["geolocation"],
            geolocation={"latitude": 47.0, "longitude": 8.0, "accuracy": 4.0},
        )
        self.page: Page = self.context.new_page()
        for script in scripts:
            self.page.add_init_script(script)
        self.phone = Phone(self.context, self.page, server.url, ConsoleWatch())
        self.devtools: CDPSession = self.context.new_cdp_session(self.page)
        self._fixes = 0

    def throttle(self, rate: float) -> None:
        self.devtools.send("Emulation.setCPUThrottlingRate", {"rate": rate})

    def fix(self) -> None:
        self._fixes += 1
        angle = self._fixes / 3000
        place = {
            "latitude": 47.0 + 0.0045 * math.sin(angle),
            "longitude": 8.0 + 0.0066 * (1 - math.cos(angle)),
            "accuracy": 4.0,
            "speed": 16.7,
            "heading": math.degrees(angle) % 360,
        }
        self.devtools.send("Emulation.setGeolocationOverride", place)

    def drive(self, seconds: float, each_half: Callable[[int], None] = lambda _: None) -> None:
        """Ten fixes a second in real time; something of ours each half second."""
        began_s = time.monotonic()
        for count in range(round(seconds * 10)):
            self.fix()
            if count % 5 == 0:
                each_half(count // 5)
            left_s = began_s + (count + 1) / 10 - time.monotonic()
            if left_s > 0:
                self.page.wait_for_timeout(left_s * 1000)

    def tap(self, count: int) -> None:
        """Touch one of two keys that stay where they are."""
        key = ("floored", "trip_reset")[count % 2]
        box = self.page.locator(f".keys [data-key={key}]").bounding_box()
        assert box
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        point = [{"x": x, "y": y}]
        self.devtools.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": point})
        self.devtools.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    def seen(self, name: str) -> Any:
        return self.page.evaluate("(name) => seen[name]", name)

    def memory_mb(self) -> tuple[float, float]:
        """JavaScript heap in use after collection, and private memory of the page's process."""
        self.devtools.send("HeapProfiler.collectGarbage")
        self.devtools.send("Performance.enable")
        metrics = self.devtools.send("Performance.getMetrics")["metrics"]
        heap = next(one["value"] for one in metrics if one["name"] == "JSHeapUsedSize")
        browser = self.context.browser
        assert browser
        processes = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")
        renderers = [p["id"] for p in processes["processInfo"] if p["type"] == "renderer"]
        return heap / 1e6, max(_private_mb(pid) for pid in renderers)


def _private_mb(pid: int) -> float:
    text = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return sum(int(kb) for kb in re.findall(r"Private_\w+:\s+(\d+) kB", text)) * 1024 / 1e6


def start_ms(bench: Bench, rate: float, loads: int = 10) -> list[float]:
    """Offline: from the navigation to the frame that shows the page."""
    bench.context.set_offline(True)
    bench.throttle(rate)
    lasting = []
    for _ in range(loads):
        bench.page.reload()
        bench.page.wait_for_selector("main")
        bench.page.wait_for_timeout(500)
        lasting.append(float(bench.seen("start_ms")))
    bench.throttle(1)
    bench.context.set_offline(False)
    return lasting


def four_hours(browser: Browser, server: LiveServer, hours: float, rate: float) -> None:
    """Record so long at 10 Hz, then look at memory, frames and taps."""
    bench = Bench(browser, server, (FAST_CLOCK.read_text(), WATCH))
    bench.phone.drive()
    bench.context.set_offline(True)
    began_s = time.monotonic()
    peak_heap_mb = peak_private_mb = fixes = 0.0
    for _ in range(round(hours * 12)):  # each five minutes
        fixes = bench.page.evaluate("() => driveOn(300)")
        bench.tap(0)
        heap_mb, private_mb = bench.memory_mb()
        peak_heap_mb, peak_private_mb = (
            max(peak_heap_mb, heap_mb),
            max(peak_private_mb, private_mb),
        )
    rows = bench.page.evaluate(COUNT)
    print(
        f"{hours:g} h at 10 Hz: {fixes:.0f} fixes given, {rows['fixes']} stored in "
        f"{rows['chunks']} pieces ({time.monotonic() - began_s:.0f} s); JavaScript heap "
        f"{peak_heap_mb:.1f} MB, private memory of the process {peak_private_mb:.0f} MB at most "
        f"(limit {LIMITS['memory_mb']})"
    )
    _look_at_smoothness(bench.context, server, rate)
    bench.context.close()


def _look_at_smoothness(context: BrowserContext, server: LiveServer, rate: float) -> None:
    """The same session opened again by the clock on the wall, all of it unsent, then sent."""
    bench = object.__new__(Bench)
    bench.context, bench.page, bench._fixes = context, context.new_page(), 0
    for page in context.pages[:-1]:
        page.close()
    bench.page.add_init_script(WATCH)
    bench.devtools = context.new_cdp_session(bench.page)
    bench.phone = Phone(context, bench.page, server.url, ConsoleWatch())
    bench.page.goto(f"{server.url}/capture")
    bench.page.wait_for_selector("main.drive")
    bench.throttle(rate)
    bench.page.evaluate("() => watchFrames()")
    for words, offline in (("all of it unsent", True), ("while it is sent", False)):
        context.set_offline(offline)
        bench.page.evaluate("() => { seen.frames_ms = []; seen.taps_ms = []; }")
        bench.drive(15, bench.tap)
        bench.page.wait_for_timeout(500)
        heap_mb, private_mb = bench.memory_mb()
        print(
            f"  opened again, {words}: frames {_spread(bench.seen('frames_ms'))}; taps durable "
            f"{_spread(bench.seen('taps_ms'))}; heap {heap_mb:.1f} MB, private {private_mb:.0f} MB"
        )


COUNT = """() => new Promise((resolve) => {
  indexedDB.open("ebbline-capture").onsuccess = (event) => {
    const db = event.target.result;
    const counted = { chunks: 0, fixes: 0 };
    db.transaction("fixes").objectStore("fixes").openCursor().onsuccess = ({ target }) => {
      const cursor = target.result;
      if (!cursor) { db.close(); return resolve(counted); }
      counted.chunks += 1;
      counted.fixes += cursor.value.columns.seq.length;
      cursor.continue();
    };
  };
})"""


def _spread(values: list[float]) -> str:
    ordered = sorted(values)
    p95 = ordered[math.ceil(0.95 * len(ordered)) - 1]
    return (
        f"median {statistics.median(ordered):.0f}, p95 {p95:.0f}, most {ordered[-1]:.0f} ms "
        f"(n {len(ordered)})"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--throttle", type=float, default=4)
    parser.add_argument("--taps", type=int, default=200)
    parser.add_argument("--hours", type=float, default=4)
    asked = parser.parse_args()
    print(f"weight {weight_kb():.1f} kB compressed (limit {LIMITS['weight_kb']})")
    server = new_server(Path(tempfile.mkdtemp(prefix="ebbline-bench-")) / "server")
    server.start()
    try:
        with sync_playwright() as player:
            browser = player.chromium.launch(
                executable_path=chromium_program(), args=chromium_arguments()
            )
            print(json.dumps({"browser": browser.version, "throttle": asked.throttle}))
            bench = Bench(browser, server, (WATCH,))
            bench.phone.open()
            first_ms = start_ms(bench, asked.throttle)
            print(f"offline start, first page: {_spread(first_ms)} (limit {LIMITS['start_ms']})")
            bench.phone.make_session()
            bench.phone.accept_cautions()
            drive_ms = start_ms(bench, asked.throttle)
            print(f"offline start, into a run: {_spread(drive_ms)} (limit {LIMITS['start_ms']})")
            bench.throttle(asked.throttle)
            bench.page.evaluate("() => { seen.taps_ms = []; }")
            bench.drive(asked.taps / 2, bench.tap)
            taps_ms = bench.seen("taps_ms")
            print(f"taps durable: {_spread(taps_ms)} (limit at p95 {LIMITS['tap_ms']})")
            bench.context.close()
            four_hours(browser, server, asked.hours, asked.throttle)
            browser.close()
    finally:
        server.stop()


if __name__ == "__main__":
    main()
