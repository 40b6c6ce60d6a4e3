"""How soon the desk shows a long session, and how fluently it follows the hand.

    python tests/benchmarks/desk.py [--fixes 72000] [--runs 3] [--picture FILE]

Two hours at 10 Hz, 300 events, 60 readings, on the real server and in a real Chromium. Prints,
for each run, when figures and charts were on the screen and when every fix was, counted from
the opening of the page with the result in the server's cache; then frames a second while the
charts are zoomed, moved and pointed at, and the processor time that the page's own thread takes
for a frame, which other work on the machine doesn't touch. Headless Chromium draws 60 frames a
second at most.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import urllib.request
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from benchmarks.analysis import two_hours
from browser.conftest import chromium_arguments, chromium_program
from measure.drive import START_S
from playwright.sync_api import CDPSession, Page, sync_playwright
from server_process import new_server

WATCH = """
window.shownMs = {};
new MutationObserver(() => {
  const drawn = Number(document.querySelector("#timeline .strip")?.dataset.drawn ?? 0);
  const on = (selector) => document.querySelector(selector) !== null;
  const shown = { figures: on("[data-figure=distance_m]"),
                  charts: drawn > 0, every_fix: on("[data-every-fix]") };
  for (const [name, is] of Object.entries(shown)) {
    if (!is || name in window.shownMs) continue;
    window.shownMs[name] = 0;
    requestAnimationFrame(() => { window.shownMs[name] = Math.round(performance.now()); });
  }
}).observe(document, { childList: true, subtree: true, attributes: true });
window.frames_ = [];
window.count = (on) => {
  window.counting = on;
  window.frames_ = [];
  const tick = (at) => {
    if (!window.counting) return;
    window.frames_.push(at);
    requestAnimationFrame(tick);
  };
  requestAnimationFrame(tick);
};
"""


def session_file(fixes: int) -> dict[str, Any]:
    """The benchmark's session as a session file."""
    evidence = two_hours(fixes)
    (crumbs,) = evidence.breadcrumbs
    events = [
        {"id": e.id, "device": e.device, "t_ms": e.t_ms, "kind": e.kind} for e in evidence.events
    ]
    readings = [
        {
            "id": r.id,
            "device": r.device,
            "t_ms": r.t_ms,
            "quantity": r.quantity,
            "value": r.value,
            "unit": r.unit,
            "resolution": r.resolution,
        }
        for r in evidence.readings
    ]
    columns = {
        name: [None if np.isnan(v) else v for v in np.asarray(getattr(crumbs, name)).tolist()]
        for name in ("seq", "t_ms", "lat", "lon", "accuracy_m", "speed_mps", "heading_deg")
    }
    return {
        "format": "ebbline-session",
        "version": 1,
        "session": {
            "id": evidence.id,
            "title": "Two hours at 10 Hz",
            "started_at": np.datetime_as_string(np.datetime64(int(START_S), "s")) + "Z",
        },
        "vehicle": {"label": "Benchmark car", "pack": {"usable_kwh": 58.0}},
        "course": {"closed": True, "surveyed_lap_m": 2000.0, "surveyed_lap_sd_m": 0.5},
        "devices": [{"id": crumbs.device}],
        "breadcrumbs": [{"device": crumbs.device, **columns}],
        "events": events,
        "readings": readings,
    }


def frames_per_second(page: Page) -> tuple[float, float, int]:
    """Mean and worst tenth of the frames since ``window.count(true)``, and their number."""
    stamps = page.evaluate("() => { window.counting = false; return window.frames_; }")
    steps_ms = np.sort(np.diff(stamps))
    slowest = steps_ms[-max(1, len(steps_ms) // 10) :]
    return 1000 / float(np.mean(steps_ms)), 1000 / float(np.mean(slowest)), len(steps_ms)


def busy_s(devtools: CDPSession) -> float:
    """Processor time that the page's thread has taken."""
    metrics = devtools.send("Performance.getMetrics")["metrics"]
    return float(next(one["value"] for one in metrics if one["name"] == "TaskDuration"))


def handle(page: Page, devtools: CDPSession, kind: str) -> str:
    """Zoom in and out, move or point at the charts for some two seconds."""
    before_s = busy_s(devtools)
    page.evaluate("window.count(true)")
    page.evaluate(
        """async (kind) => {
          const face = document.querySelector('#timeline .strip-face');
          const box = face.getBoundingClientRect();
          const at = (share) => ({ clientX: box.left + box.width * share, clientY: box.top + 200,
                                   bubbles: true, cancelable: true });
          const until = performance.now() + 2000;
          for (let i = 0; performance.now() < until; i += 1) {
            const share = 0.5 + 0.3 * Math.sin(i / 15);
            if (kind === "zoom") face.dispatchEvent(new WheelEvent("wheel",
              { ...at(0.6), ctrlKey: true, deltaY: (i % 60) < 30 ? -25 : 25 }));
            if (kind === "move") face.dispatchEvent(new WheelEvent("wheel",
              { ...at(0.6), deltaX: (i % 60) < 30 ? 25 : -25 }));
            if (kind === "point") face.dispatchEvent(new PointerEvent("pointermove", at(share)));
            await new Promise(requestAnimationFrame);
          }
        }""",
        kind,
    )
    mean, slowest, frames = frames_per_second(page)
    each_ms = 1000 * (busy_s(devtools) - before_s) / frames
    return (
        f"{kind}: {mean:.0f} frames/s, slowest tenth {slowest:.0f}; "
        f"{each_ms:.1f} ms of the page's thread a frame"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--fixes", type=int, default=72_000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--picture", type=Path, help="also save what was seen")
    chosen = parser.parse_args()
    document = session_file(chosen.fixes)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as player:
        server = new_server(Path(folder) / "server")
        server.start()
        try:
            request = urllib.request.Request(
                f"{server.url}/api/sessions/import",
                data=json.dumps(document).encode(),
                headers={"Content-Type": "application/json"},
            )
            urllib.request.urlopen(request, timeout=120).close()
            session = f"{server.url}/api/sessions/{document['session']['id']}"
            urllib.request.urlopen(f"{session}/result", timeout=120).close()
            browser = player.chromium.launch(
                executable_path=chromium_program(), args=chromium_arguments()
            )
            for run in range(chosen.runs):
                context = browser.new_context(viewport={"width": 1440, "height": 900})
                page = context.new_page()
                page.add_init_script(WATCH)
                devtools = context.new_cdp_session(page)
                devtools.send("Performance.enable", {"timeDomain": "threadTicks"})
                page.goto(f"{server.url}/desk?session={document['session']['id']}")
                page.locator("[data-every-fix]").wait_for(timeout=60_000)
                page.wait_for_timeout(500)
                print(
                    f"run {run + 1}, ms after opening: {page.evaluate('window.shownMs')}; "
                    f"{1000 * busy_s(devtools):.0f} ms of the page's thread in all"
                )
                if run == chosen.runs - 1:
                    # the whole run in view: zooming starts from all fixes
                    for kind in ("point", "zoom"):
                        print(handle(page, devtools, kind))
                    page.locator("#timeline .strip-face").press("+")
                    print(handle(page, devtools, "move"))
                    if chosen.picture:
                        page.screenshot(path=chosen.picture)
                context.close()
            browser.close()
        finally:
            server.stop()


if __name__ == "__main__":
    main()
