"""A Chromium in a process of its own on a profile that outlives it, to be killed and stopped."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path

from lifeline import Program
from patience import wait_for
from playwright.sync_api import Browser, BrowserContext, Playwright
from programs import NO_CHROMIUM, find_chromium

ARGUMENTS = (
    "--headless=new",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
    "--no-first-run",
    "--remote-debugging-port=0",
)


class Chromium:
    """One browser on one profile, as one phone has; the headless shell, which keeps one too."""

    def __init__(self, player: Playwright, profile: Path) -> None:
        self._player = player
        self._profile = profile
        self._process: Program | None = None
        self._browser: Browser | None = None

    def start(self) -> None:
        program = find_chromium(shell=True)
        if program is None:
            raise RuntimeError(NO_CHROMIUM)
        port_file = self._profile / "DevToolsActivePort"
        self._profile.mkdir(exist_ok=True)
        port_file.unlink(missing_ok=True)
        root = hasattr(os, "geteuid") and os.geteuid() == 0
        self._process = Program(
            [
                str(program),
                *ARGUMENTS,
                *(["--no-sandbox"] if root else []),
                f"--user-data-dir={self._profile}",
                "about:blank",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

        def told() -> list[str]:
            assert self._process is not None
            assert self._process.poll() is None, "the browser did not start"
            return port_file.read_text().split() if port_file.exists() else []

        port, *_ = wait_for("the browser's debugging port", told)
        self._browser = self._player.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")

    @property
    def own_context(self) -> BrowserContext:
        """That of the profile: it outlives the process."""
        assert self._browser is not None
        return self._browser.contexts[0]

    def new_context(self) -> BrowserContext:
        """One with a storage of its own, which ends with it."""
        assert self._browser is not None
        return self._browser.new_context()

    def kill(self) -> None:
        """As a flat battery would: no process of it gets another instruction."""
        if self._process is None:
            return
        self._process.end()
        self._process = None
        self._browser = None

    def stop_for(self, seconds: float) -> None:
        """Every process of it stands still, as those of a locked phone."""
        assert self._process is not None
        self._process.signal_all(signal.SIGSTOP)
        time.sleep(seconds)
        self._process.signal_all(signal.SIGCONT)
