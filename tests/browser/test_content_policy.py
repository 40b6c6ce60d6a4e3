"""What the browser makes of our content security policy."""

from __future__ import annotations

from typing import Any

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
  script.src = '/vendor/plotly.min.js';
  await new Promise((done, failed) => {
    script.onload = done;
    script.onerror = failed;
    document.head.append(script);
  });
  const box = document.createElement('div');
  document.body.append(box);
  const points = { x: [1, 2, 3], y: [2, 1, 3] };
  await Plotly.newPlot(box, [
    { ...points, type: 'scatter', mode: 'lines+markers', fill: 'tozeroy' },
    { ...points, type: 'scatter', error_y: { array: [1, 1, 1] } },
  ], { title: { text: 'A chart' }, hovermode: 'x unified' });
  const image = await Plotly.toImage(box, { format: 'png', width: 300, height: 200 });
  return { paths: box.querySelectorAll('path').length, image: image.slice(0, 22) };
}
"""


def test_charts_draw_and_save_without_eval(live_server: Any, browser: Browser) -> None:
    page = browser.new_page()
    page.add_init_script(WATCH)
    page.goto(f"{live_server.url}/desk")
    drawn = page.evaluate(DRAW)
    assert drawn["paths"] > 5
    assert drawn["image"] == "data:image/png;base64,"
    assert page.evaluate("window.violations") == []
    page.close()


def test_pages_load_within_the_policy(live_server: Any, browser: Browser) -> None:
    for path in ("/", "/capture", "/desk", "/nothing"):
        page = browser.new_page()
        page.add_init_script(WATCH)
        page.goto(f"{live_server.url}{path}", wait_until="networkidle")
        assert page.evaluate("window.violations") == []
        page.close()


def test_what_others_would_have_the_page_do_is_refused(live_server: Any, browser: Browser) -> None:
    for attack, violation in ATTACKS:
        page = browser.new_page()
        page.add_init_script(WATCH + INJECT)
        page.goto(f"{live_server.url}/desk")
        page.evaluate(attack)
        page.wait_for_timeout(300)
        seen = page.evaluate("window.violations")
        assert [found for found in seen if found.startswith(violation)], attack
        assert page.evaluate("window.bad") is None
        page.close()
