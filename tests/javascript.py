"""Pure modules of the pages, asked without a page: by Node where there is one, else in Chromium."""

from __future__ import annotations

import json
import re
import subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from playwright.sync_api import Route, sync_playwright
from programs import NO_CHROMIUM, find_chromium, find_node

PWA = Path(__file__).parents[1] / "pwa"
NODE_WITHIN_S = 60.0
_ELSEWHERE = "http://pages.test/"


def evaluate(path: str, script: str, argument: object = None) -> Any:
    """What a function makes of a module and an argument.

    Args:
        path: of the module below ``pwa/``.
        script: a JavaScript function of the module and the argument, which may be asynchronous.
        argument: anything that JSON can say, as must be the answer.
    """
    node = find_node()
    if node:
        return _by_node(node, path, script, argument)
    # in a thread of its own: a test before this one may have left Playwright's loop in this one
    with ThreadPoolExecutor(1) as apart:
        return apart.submit(_by_chromium, path, script, argument).result()


def _by_node(node: Path, path: str, script: str, argument: object) -> Any:
    url = json.dumps((PWA / path).as_uri())
    program = f"""
      import {{ readFileSync }} from "node:fs";
      const answer = await ({script})(await import({url}), JSON.parse(readFileSync(0, "utf8")));
      process.stdout.write(JSON.stringify(answer));
    """
    done = subprocess.run(
        [node, "--input-type=module", "--eval", program],
        input=json.dumps(argument),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=NODE_WITHIN_S,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def _by_chromium(path: str, script: str, argument: object) -> Any:
    def answer(route: Route) -> None:
        asked = re.sub(r"[?#].*", "", route.request.url.removeprefix(_ELSEWHERE))
        if asked:
            route.fulfill(path=PWA / asked)
        else:
            route.fulfill(body="", content_type="text/html")

    program = find_chromium()
    assert program, NO_CHROMIUM
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=program, args=["--no-sandbox"])
        page = browser.new_page()
        page.route(f"{_ELSEWHERE}**", answer)
        page.goto(_ELSEWHERE)
        whole = f"async ([path, argument]) => ({script})(await import(path), argument)"
        found = page.evaluate(whole, [f"/{path}", argument])
        browser.close()
    return found
