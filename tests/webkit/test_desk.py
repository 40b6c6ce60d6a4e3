"""The desk in the engine of a Mac's own browser: charts are drawn, read and zoomed."""

from __future__ import annotations

import urllib.request
from pathlib import Path

import pytest
from patience import LONGEST_S
from server_process import LiveServer
from webkit.driver import WebKit, wait_until

pytestmark = pytest.mark.slow

SAMPLE = Path(__file__).parents[2] / "sample_sessions" / "full-run.ebbline.json"


def test_charts_are_drawn_and_follow_mouse_and_keys(
    webkit: WebKit, live_server: LiveServer
) -> None:
    webkit.resize(1440, 900)
    send(live_server.url, SAMPLE.read_bytes())
    webkit.open(f"{live_server.url}/desk")
    webkit.touch(".session-table[aria-busy=false] a", "Full run")
    webkit.wait(".session[aria-busy=false]")
    wait_until("the charts", lambda: webkit.evaluate(INK) > 1000)
    assert webkit.wait("[data-figure=distance_m] .figure").startswith("7.90\u00a0km")
    assert webkit.evaluate(TRACK) > 100

    # one cursor through charts, map and readout
    x, y, width = webkit.evaluate(FACE)
    before = webkit.evaluate(CURSOR)
    webkit.point(x + width * 0.3, y + 100)
    wait_until("the cursor", lambda: abs(webkit.evaluate(CURSOR)["hair"] - x - width * 0.3) < 2)
    after = webkit.evaluate(CURSOR)
    assert before["map"] != after["map"]
    assert before["readout"] != after["readout"]

    # zoomed by the mouse, a key and a button, and whole again
    whole = webkit.evaluate(TICKS)

    def is_zoomed() -> bool:
        return bool(webkit.evaluate(TICKS) != whole)

    webkit.point(x + width * 0.3, y + 100, "pointerDown")
    webkit.point(x + width * 0.6, y + 100, "pointerUp")
    wait_until("zoom by dragging", is_zoomed)
    webkit.evaluate("() => document.querySelector('#timeline .strip-face').focus()")
    webkit.press("0")
    wait_until("the whole run", lambda: not is_zoomed())
    webkit.press("+")
    wait_until("zoom by a key", is_zoomed)
    webkit.touch("#timeline button", "Whole run")
    wait_until("the whole run", lambda: not is_zoomed())
    webkit.touch("#timeline button", "From zero on")
    wait_until("what came after zero", is_zoomed)


def send(url: str, document: bytes) -> None:
    asked = urllib.request.Request(
        f"{url}/api/sessions/import", document, {"Content-Type": "application/json"}
    )
    urllib.request.urlopen(asked, timeout=LONGEST_S).close()


# Pixels of the charts that something was drawn on.
INK = """() => {
  const canvas = document.querySelector("#timeline .strip-canvas");
  if (!canvas?.width) return 0;
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  return data.filter((part, i) => i % 4 === 3 && part > 0).length;
}"""

TRACK = """() => [...document.querySelectorAll(".map-track")].reduce(
  (sum, part) => sum + part.getTotalLength(), 0)"""

FACE = """() => {
  const face = document.querySelector("#timeline .strip-face");
  face.scrollIntoView({ block: "center" });
  const { x, y, width } = face.getBoundingClientRect();
  return [x, y, width];
}"""

CURSOR = """() => ({
  hair: document.querySelector("#timeline .strip-hair").getBoundingClientRect().x,
  map: document.querySelector(".map-cursor").getBoundingClientRect().x,
  readout: document.querySelector(".readout").innerText,
})"""

TICKS = """() => [...document.querySelectorAll("#timeline .strip-axis-run .tick")]
  .map((tick) => tick.textContent)"""
