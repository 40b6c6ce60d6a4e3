"""What a page costs the one who opens it for the first time, counted on the wire."""

from __future__ import annotations

import contextlib
import re
import socket
import socketserver
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser.conftest import (
    WAIT_MS,
    ConsoleWatch,
    chromium_arguments,
    chromium_program,
    trust_argument,
    until,
)
from playwright.sync_api import Page, Playwright
from server_process import LiveServer, new_tls_server

MOST_BYTES = 100_000  # all of the phone's page and its offline copy, with what TLS and HTTP add
QUIET_MS = 1500
MODULES = """() => performance.getEntriesByType("resource")
  .map(({ name }) => new URL(name).pathname).filter((path) => path.endsWith(".js"))"""


class Line(socketserver.ThreadingTCPServer):
    """Hands on what comes to a port of its own and counts what goes back, as a cable would."""

    daemon_threads = True

    def __init__(self, to_port: int) -> None:
        self.to_port = to_port
        self.received_bytes = 0  # by the browser
        super().__init__(("127.0.0.1", 0), _Connection)

    @property
    def port(self) -> int:
        port: int = self.server_address[1]
        return port


class _Connection(socketserver.BaseRequestHandler):
    server: Line
    request: socket.socket

    def handle(self) -> None:
        with socket.create_connection(("127.0.0.1", self.server.to_port)) as server:
            upwards = threading.Thread(target=_hand_on, args=(self.request, server))
            upwards.start()
            for size in _hand_on_sizes(server, self.request):
                self.server.received_bytes += size
            upwards.join()


def _hand_on(source: socket.socket, sink: socket.socket) -> None:
    for _ in _hand_on_sizes(source, sink):
        pass


def _hand_on_sizes(source: socket.socket, sink: socket.socket) -> Iterator[int]:
    """Sizes of the pieces, until one end hangs up; then both have."""
    with contextlib.suppress(OSError):
        while data := source.recv(65536):
            sink.sendall(data)
            yield len(data)
    for end in (source, sink):
        with contextlib.suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    server = new_tls_server(tmp_path_factory.mktemp("tls") / "server")
    server.start()
    yield server
    server.stop()


@pytest.fixture
def line(server: LiveServer) -> Iterator[Line]:
    with Line(server.port) as line:
        serving = threading.Thread(target=line.serve_forever)
        serving.start()
        yield line
        line.shutdown()
        serving.join()


@pytest.fixture
def page(
    player: Playwright, server: LiveServer, line: Line, console: ConsoleWatch, tmp_path: Path
) -> Iterator[Page]:
    """Of a browser that was never here, as a phone has it: with a cache that lasts."""
    context = player.chromium.launch_persistent_context(
        tmp_path / "profile",
        executable_path=chromium_program(shell=True),
        args=[*chromium_arguments(), trust_argument(server)],
        viewport={"width": 360, "height": 740},
    )
    context.set_default_timeout(WAIT_MS)
    page = context.pages[0]
    console.watch(page)
    console.allow("401")  # nobody is signed in
    yield page
    context.close()


def settled(page: Page, line: Line) -> int:
    """Bytes received, once no more come."""
    before = -1
    while line.received_bytes != before:
        before = line.received_bytes
        page.wait_for_timeout(QUIET_MS)
    return before


def open_first(page: Page, line: Line, path: str) -> None:
    """Open a page and hold what it runs against what the server lists in it: Chromium follows the
    imports, and runs no module that it didn't ask for at once.
    """
    answer = page.goto(f"https://127.0.0.1:{line.port}{path}")
    assert answer is not None
    page.wait_for_selector("main")
    listed = set(re.findall(r'(?:src|href)="(/[^"]+\.js)"', answer.text()))
    assert len(listed) > 1
    until(page, "() => document.readyState === 'complete'")
    assert set(page.evaluate(MODULES)) == listed


def test_a_first_visit_costs_less_than_100_kilobytes_and_asks_for_all_at_once(
    page: Page, line: Line, record_property: Callable[[str, object], None]
) -> None:
    """By the time it works offline, and no file twice: the copy is made of what has come."""
    open_first(page, line, "/capture")
    page.wait_for_selector("main.sessions")
    until(page, "() => navigator.serviceWorker.controller !== null")
    first = settled(page, line)
    page.reload()
    page.wait_for_selector("main.sessions")
    again = settled(page, line) - first
    print("bytes received, first visit:", first, "second:", again)
    record_property("first_visit_bytes", first)
    assert 50_000 < first < MOST_BYTES
    assert again < 5_000  # the list of sessions, and whether there is a newer worker
    open_first(page, line, "/sign-in")
