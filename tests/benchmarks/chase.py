"""How soon a tap reaches the chase vehicle once the network is back.

    python tests/benchmarks/chase.py [--dead 20 90] [--runs 3]

A real phone's page in a run, a real page that follows it, the real server. The server falls silent
so many seconds, in two ways: every request is refused at once, or it is taken and never answered,
as a dead mobile network does. The tap is made at the end of it. Nothing tells the pages that the
line is back: no event of the browser's, no touch. The clock starts when the server answers again.
"""

from __future__ import annotations

import argparse
import socket
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from browser.conftest import (
    ConsoleWatch,
    Phone,
    chromium_arguments,
    chromium_program,
    phone_context,
)
from playwright.sync_api import Browser, Page, sync_playwright
from server_process import LiveServer, new_server

LIMIT_S = 10.0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--dead", type=float, nargs="+", default=[20.0, 90.0], help="seconds")
    parser.add_argument("--runs", type=int, default=3)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as player:
        server = new_server(Path(folder) / "data")
        server.start()
        program = chromium_program(shell=True)
        browser = player.chromium.launch(executable_path=program, args=chromium_arguments())
        try:
            return _measure(browser, server, asked.dead, asked.runs)
        finally:
            browser.close()
            server.stop()


def _measure(browser: Browser, server: LiveServer, dead: list[float], runs: int) -> int:
    phone, chase = _under_way(browser, server)
    late = 0
    for name, falling in (("refused", _refused), ("silent", _silent)):
        for dead_s in dead:
            took_s = [_tap_to_chase_s(phone, chase, falling(server), dead_s) for _ in range(runs)]
            late += max(took_s) > LIMIT_S
            print(
                f"{name} for {dead_s:g} s: median {statistics.median(took_s):.1f} s, "
                f"longest {max(took_s):.1f} s of {runs} (limit {LIMIT_S:g} s)",
                flush=True,
            )
    return 1 if late else 0


@contextmanager
def _refused(server: LiveServer) -> Iterator[None]:
    server.stop()
    yield
    server.start()


@contextmanager
def _silent(server: LiveServer) -> Iterator[None]:
    """Whoever connects is let in and never answered, not even when the server is back."""
    server.stop()
    taken: list[socket.socket] = []
    listening = socket.create_server(("127.0.0.1", server.port), backlog=64)

    def take() -> None:
        with suppress(OSError):
            while True:
                taken.append(listening.accept()[0])

    taking = threading.Thread(target=take, daemon=True)
    taking.start()
    yield
    listening.shutdown(socket.SHUT_RDWR)
    listening.close()
    taking.join()
    server.start()


def _under_way(browser: Browser, server: LiveServer) -> tuple[Phone, Page]:
    context = phone_context(browser)
    phone = Phone(context, context.new_page(), server.url, ConsoleWatch())
    phone.drive()
    phone.send_all()
    chase = browser.new_page()
    chase.goto(f"{server.url}/follow#{phone.session_id()}")
    return phone, chase


def _tap_to_chase_s(
    phone: Phone, chase: Page, dead_line: AbstractContextManager[None], dead_s: float
) -> float:
    before = _last_event(chase)
    with dead_line:
        phone.page.wait_for_timeout(1000 * dead_s)
        phone.press("warning")
        phone.choose("stop_now" if "stop now" not in before else "charge_now")
    back_s = time.monotonic()
    phone.wait_for("the tap on the page that follows", lambda: _last_event(chase) != before)
    return time.monotonic() - back_s


def _last_event(chase: Page) -> str:
    return str(chase.evaluate("() => document.querySelector('#event').textContent"))


if __name__ == "__main__":
    sys.exit(main())
