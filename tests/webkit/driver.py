"""WebKitGTK, started and driven by the W3C's WebDriver protocol over plain HTTP.

https://www.w3.org/TR/webdriver2/: a dozen of its commands are all that these tests need.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from lifeline import Program
from patience import LONGEST_S, T, wait_for
from programs import NO_WEBKIT, find_webkit
from server_process import free_port

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the protocol's name for a reference to one
BROWSER = Path(__file__).parent / "browser.py"
AROUND = {"allowed": True, "page_cache": True, "accuracy_m": 4.0, "speed_mps": 0.0}


def wait_until(what: str | Callable[[], str], look: Callable[[], T]) -> T:
    """Look until there is something. Each look goes through four processes, so they are few."""
    return wait_for(what, look, lambda: time.sleep(0.15))


class RefusedError(Exception):
    """The driver can't do what it was asked."""


class WebKit:
    """A WebKit browser with one page, on a screen of its own that nobody sees."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._log = folder / "log"
        self._programs = find_webkit()
        if self._programs is None:
            pytest.fail(NO_WEBKIT)
        self._driver: Program | None = None
        self._screen = self._new_screen()
        self._around: dict[str, Any] = {}
        self.surround(**AROUND)

    def surround(self, **changes: Any) -> None:
        """Change what the browser finds around it; see ``browser.py``."""
        self._around |= changes
        new = self._folder / "new"
        new.write_text(json.dumps(self._around))
        new.replace(self._folder / "surroundings")

    def start(self) -> None:
        """Start driver and browser with what the profile holds."""
        assert self._programs is not None
        port = free_port()
        environment = {
            **os.environ,
            "DISPLAY": f":{self._display}",
            "EBBLINE_PROFILE": str(self._folder / "profile"),
            "EBBLINE_SURROUNDINGS": str(self._folder / "surroundings"),
            "GDK_BACKEND": "x11",
            "NO_AT_BRIDGE": "1",
        }
        with self._log.open("ab") as log:
            self._driver = Program(
                [str(self._programs["driver"]), f"--port={port}"],
                env=environment, stdout=log, stderr=log,
            )  # fmt: skip
        self._url = f"http://127.0.0.1:{port}"
        wait_until(self.heard, self._answers)
        options = {
            "binary": str(self._programs["python"]),
            "args": [str(BROWSER)],
        }
        wanted = {
            "browserName": "Ebbline tests",
            "webkitgtk:browserOptions": options,
            "unhandledPromptBehavior": "ignore",
            "timeouts": {"script": 1000 * LONGEST_S, "pageLoad": 1000 * LONGEST_S},
        }
        made = self._ask("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})
        self._url += f"/session/{made['sessionId']}"

    def kill(self) -> None:
        """End every process of it at once, as a power cut would."""
        assert self._driver is not None
        self._driver.end()
        self._driver = None

    def close(self) -> None:
        if self._driver is not None:
            self._driver.end()
        self._screen.stop()

    def heard(self) -> str:
        """What browser and driver have said, pages' consoles included."""
        return self._log.read_text(errors="replace")

    # --- the page ---

    def open(self, url: str) -> None:
        self._ask("POST", "/url", {"url": url})

    def back(self) -> None:
        self._ask("POST", "/back", {})

    def reload(self) -> None:
        self._ask("POST", "/refresh", {})

    def resize(self, width: int, height: int) -> None:
        self._ask("POST", "/window/rect", {"width": width, "height": height})

    def evaluate(self, script: str, *arguments: object) -> Any:
        """What a function makes of the arguments; a promise is awaited."""
        body = {"script": f"return ({script})(...arguments)", "args": list(arguments)}
        return self._ask("POST", "/execute/sync", body)

    def wait(self, selector: str, words: str = "") -> str:
        """Until something that matches says the words; gives all that it says."""

        def said() -> str | None:
            for text in self.evaluate(SAID, selector):
                if words in text:
                    return str(text) or " "
            return None

        return wait_until(lambda: f"{words!r} in {selector}: {self.evaluate(SAID, 'body')}", said)

    def touch(self, selector: str, words: str = "") -> None:
        """Click what matches, says the words and can be used, where a hand would find it."""
        element = wait_until(
            lambda: f"{words!r} in {selector}: {self.evaluate(SAID, 'body')}",
            lambda: self.evaluate(IN_REACH, selector, words),
        )
        self._ask("POST", f"/element/{element[ELEMENT]}/click", {})

    def write(self, selector: str, text: str) -> None:
        """Replace what a field holds by the keyboard."""
        wait_until(selector, lambda: self._all(selector))
        (element,) = self._all(selector)
        self._ask("POST", f"/element/{element}/clear", {})
        self._ask("POST", f"/element/{element}/value", {"text": text})

    def press(self, keys: str) -> None:
        """Press keys one after another, wherever the focus is."""
        strokes = [{"type": way, "value": key} for key in keys for way in ("keyDown", "keyUp")]
        self._act({"type": "key", "id": "keyboard", "actions": strokes})

    def point(self, x: float, y: float, *deeds: str) -> None:
        """Move the mouse there, then ``pointerDown``, ``pointerUp``."""
        move = {"type": "pointerMove", "x": round(x), "y": round(y), "duration": 0}
        then = [{"type": deed, "button": 0} for deed in deeds]
        self._act({"type": "pointer", "id": "mouse", "actions": [move, *then]})

    # --- underneath ---

    def _all(self, selector: str) -> list[str]:
        found = self._ask("POST", "/elements", {"using": "css selector", "value": selector})
        return [one[ELEMENT] for one in found]

    def _act(self, *sources: dict[str, Any]) -> None:
        self._ask("POST", "/actions", {"actions": list(sources)})

    def _ask(self, method: str, path: str, body: dict[str, Any] | None = None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self._url + path, data=data, method=method)
        try:
            with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            told = json.load(error)["value"]
            raise RefusedError(f"{method} {path}: {told['error']}: {told['message']}") from None

    def _answers(self) -> bool:
        assert self._driver is not None
        assert self._driver.poll() is None, self.heard()
        with contextlib.suppress(urllib.error.URLError, ConnectionError):
            return bool(self._ask("GET", "/status")["ready"])
        return False

    def _new_screen(self) -> Program:
        assert self._programs is not None
        told = self._folder / "display"
        command = [str(self._programs["screen"]), "-displayfd", "1", "-nolisten", "tcp"]
        with told.open("wb") as output, self._log.open("ab") as log:
            screen = Program([*command, "-screen", "0", "1440x900x24"], stdout=output, stderr=log)
        wait_until(self.heard, lambda: told.read_text().endswith("\n"))
        self._display = told.read_text().strip()
        return screen


SAID = "(selector) => [...document.querySelectorAll(selector)].map((node) => node.innerText)"

# Centred first: a bar that sticks to an edge covers what the driver would scroll to there.
IN_REACH = """(selector, words) => {
  const found = [...document.querySelectorAll(selector)].find(
    (one) => !one.disabled && one.checkVisibility() && one.innerText.includes(words));
  found?.scrollIntoView({ block: "center" });
  return found;
}"""
