"""The phone's page in WebKit, as a passenger uses it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from browser.conftest import READ_ALL, taps_among
from webkit.driver import WebKit, wait_until

PHONE = (360, 740)


@dataclass(slots=True)
class Phone:
    webkit: WebKit
    url: str

    def open(self) -> None:
        self.webkit.resize(*PHONE)
        self.webkit.open(f"{self.url}/capture")

    def plan(self) -> None:
        """From the first page to the checklist."""
        self.webkit.touch("[data-action=create]")
        facts = {"title": "Evening run", "vehicle": "Grey test car", "usable_kwh": "58"}
        for name, text in {**facts, "course": "North ring"}.items():
            self.webkit.write(f"#setup-{name}", text)
        self.webkit.touch("main button[type=submit]")
        self.webkit.wait("main.checklist")

    def start(self, how: str = "start") -> None:
        """Accept the cautions one by one and begin to record."""
        for place in range(self.webkit.evaluate(CAUTIONS)):
            self.webkit.touch(f".cautions label:nth-of-type({place + 1})")
        self.webkit.touch(f"[data-action={how}]")
        self.webkit.wait("main.drive")

    def drive(self) -> None:
        """All the way to a recording that has positions."""
        self.open()
        self.plan()
        self.webkit.wait(".gate", "±4")
        self.start()
        self.wait_fixes(1)

    def press(self, key: str) -> None:
        """Touch a key that the phase has in reach, once the keys have stopped moving: one that has
        just moved refuses a touch.
        """
        where = f".keys [data-key={key}]"
        self.webkit.evaluate(AT_REST, where)
        self.webkit.touch(where)

    def tap(self, key: str, words: str) -> None:
        """Touch a key and wait until it is stored."""
        self.press(key)
        self.wait_stored(words)

    def wait_stored(self, words: str) -> None:
        wait_until(
            lambda: f"Stored {words}: {self.webkit.wait('.drive .said')}",
            lambda: self.webkit.wait(".drive .said", words).startswith("Stored"),
        )

    def cell(self, name: str, words: str) -> None:
        """Until a cell of the strip says so."""
        self.webkit.wait(f"[data-cell={name}] b", words)

    # --- what it holds ---

    def stored(self) -> dict[str, list[dict[str, Any]]]:
        """Everything in the phone's database, past our own code."""
        held: dict[str, list[dict[str, Any]]] = self.webkit.evaluate(READ_ALL)
        return held

    def fixes(self, column: str = "seq") -> list[Any]:
        return [x for chunk in self.stored()["fixes"] for x in chunk["columns"][column]]

    def wait_fixes(self, more: int) -> None:
        """Until so many more positions are in the database."""
        before = len(self.fixes())
        wait_until(f"{more} positions", lambda: len(self.fixes()) >= before + more)

    def taps(self) -> list[dict[str, Any]]:
        """Stored events and readings in the order taken, the phone's own log left out."""
        return taps_among(self.stored()["records"])

    def logged(self, log: str) -> list[dict[str, Any]]:
        docs = [row["doc"] for row in self.stored()["records"]]
        return [doc for doc in docs if doc.get("log") == log]

    def send_all(self) -> None:
        """Until nothing is unsent any more, as when the network is back."""
        self.webkit.evaluate("() => dispatchEvent(new Event('online'))")

        def unsent() -> list[Any]:
            rows = self.stored()
            kept = rows["records"] + rows["fixes"] + rows["photos"]
            return [row["state"] for row in kept if row["state"] in {"unsent", "draft"}]

        wait_until(lambda: f"an end of {unsent()}", lambda: not unsent())


# By the page's own clock: there, and where it was for half a second.
AT_REST = """(selector) => new Promise((done) => {
  let [before, since_ms] = ["", 0];
  const look = (now_ms) => {
    const { x, y } = document.querySelector(selector)?.getBoundingClientRect() ?? {};
    const place = `${x} ${y}`;
    if (place !== before) [before, since_ms] = [place, now_ms];
    if (x !== undefined && now_ms - since_ms > 500) done();
    else requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
})"""

CAUTIONS = "() => document.querySelectorAll('.cautions input').length"
