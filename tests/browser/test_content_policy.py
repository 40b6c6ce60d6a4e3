"""What the browser makes of our content security policy."""

from __future__ import annotations

from typing import Any

from browser.conftest import WAIT_MS, until
from playwright.sync_api import Browser

WATCH = """
window.violations = [];
document.addEventListener('securitypolicyviolation',
  (event) => window.violations.push(`${event.effectiveDirective} ${event.blockedURI}`));
"""
INJECT = """
window.injected = (text) => Object.assign(document.createElement('script'), { text });
"""
ATTACKS = [
    # A timer, because the debugger's own scripts may use eval.
    ("() => setTimeout(() => eval('1'), 0)", "script-src eval"),
    ("() => document.body.append(injected('window.bad = 1'))", "script-src-elem inline"),
    ("() => fetch('https://elsewhere.example/').catch(() => 0)", "connect-src https"),
    ("() => { new Image().src = 'https://elsewhere.example/x.png'; }", "img-src https"),
]
DRAW = """
async () => {
  const script = document.createElement('script');
  script.src = '/vendor/d3.min.js';
  await new Promise((done, failed) => {
    script.onload = done;
    script.onerror = failed;
    document.head.append(script);
  });
  const canvas = document.createElement('canvas');
  const axis = document.createElementNS('http://www.w3.org/2000/svg', 'g');
  document.body.append(canvas, axis);
  const x = d3.scaleUtc().domain([0, 3600000]).range([0, 300]);
  d3.select(axis).call(d3.axisBottom(x).tickFormat(d3.utcFormat('%H:%M')));
  const ink = canvas.getContext('2d');
  d3.line().context(ink).x((_, i) => 100 * i).y((y) => y)([20, 60, 20]);
  ink.stroke();
  const drawn = ink.getImageData(0, 0, 300, 150).data.some((value) => value > 0);
  return { ticks: axis.querySelectorAll('.tick').length, drawn };
}
"""


def test_charts_draw_without_eval(live_server: Any, browser: Browser) -> None:
    page = browser.new_page()
    page.add_init_script(WATCH)
    page.goto(f"{live_server.url}/desk")
    drawn = page.evaluate(DRAW)
    assert drawn["ticks"] > 3
    assert drawn["drawn"]
    assert page.evaluate("window.violations") == []
    page.close()


def test_pages_load_within_the_policy(live_server: Any, browser: Browser) -> None:
    for path in ("/", "/capture", "/desk", "/nothing"):
        page = browser.new_page()
        page.add_init_script(WATCH)
        page.goto(f"{live_server.url}{path}", wait_until="networkidle", timeout=WAIT_MS)
        assert page.evaluate("window.violations") == []
        page.close()


def test_what_others_would_have_the_page_do_is_refused(live_server: Any, browser: Browser) -> None:
    page = browser.new_page()
    page.add_init_script(WATCH + INJECT)
    page.goto(f"{live_server.url}/desk")
    for attack, violation in ATTACKS:  # each violates another directive
        page.evaluate(attack)
        until(page, "start => window.violations.some((one) => one.startsWith(start))", violation)
        assert page.evaluate("window.bad") is None
    page.close()
