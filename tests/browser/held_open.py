"""Not collected with the others: test_ending.py runs it in a pytest of its own, to interrupt it."""

from __future__ import annotations

import os
import time
from pathlib import Path

import psycopg
from faults.chromium import Chromium
from playwright.sync_api import Browser, Playwright
from server_process import LiveServer


def test_everything_that_tests_start_is_up_until_somebody_ends_it(
    postgresql_server: str,
    live_server: LiveServer,
    browser: Browser,
    player: Playwright,
    tmp_path: Path,
) -> None:
    own_browser = Chromium(player, tmp_path / "profile")
    own_browser.start()
    page = browser.new_page()
    page.goto(f"{live_server.url}/join")
    with psycopg.connect(postgresql_server):
        Path(os.environ["EBBLINE_TEST_UP"]).touch()
        while True:
            time.sleep(1)
