"""A WebKit for one test after another, each with nothing in its storage."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from server_process import LiveServer
from webkit.driver import AROUND, WebKit

KNOWN = (
    "Unrecognized Content-Security-Policy directive 'manifest-src'",  # in Debian's build only
    "due to access control checks",  # a request that the page's end or the server's cut off
)


@pytest.fixture(scope="session")
def lasting_webkit(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebKit]:
    webkit = WebKit(tmp_path_factory.mktemp("webkit"))
    try:
        webkit.start()
        yield webkit
    finally:
        webkit.close()


@pytest.fixture
def webkit(lasting_webkit: WebKit, live_server: LiveServer) -> Iterator[WebKit]:
    """Fails the test at its end when a page complained."""
    lasting_webkit.surround(**AROUND)
    lasting_webkit.open(f"{live_server.url}/shared/rules.js")
    lasting_webkit.evaluate(FORGET)
    before = len(lasting_webkit.heard())
    yield lasting_webkit
    heard = lasting_webkit.heard()[before:].splitlines()
    complaints = [line for line in heard if "CONSOLE" in line and "ERROR" in line]
    assert [line for line in complaints if not any(part in line for part in KNOWN)] == []


FORGET = """async () => {
  localStorage.clear();
  sessionStorage.clear();
  for (const one of await navigator.serviceWorker.getRegistrations()) await one.unregister();
  await new Promise((done, failed) => {
    const request = indexedDB.deleteDatabase("ebbline-capture");
    request.onsuccess = done;
    request.onerror = failed;
  });
}"""
