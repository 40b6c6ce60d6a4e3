"""A phone, a line and a server, for one session after the other."""

from __future__ import annotations

import random
import shutil
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from patience import LONGEST_S
from playwright.sync_api import Playwright

from .chromium import Chromium
from .laptop import Laptop
from .ledger import Ledger
from .line import Line
from .passenger import Passenger
from .verdict import Verdict, judge


class World:
    """A phone in a car, a line that can be disturbed, and the server at its end."""

    def __init__(self, player: Playwright, laptop: Laptop) -> None:
        self.chance = random.Random()
        self.laptop = laptop
        self._player = player
        self.line = Line(laptop.server.port, self.chance)
        self._profile = Path(tempfile.mkdtemp(prefix="ebbline-phone-"))
        self.browser = Chromium(player, self._profile / "mine")
        self._theirs: Chromium | None = None  # what befalls one phone leaves another alone
        self._me: Passenger | None = None
        self._others: list[Passenger] = []
        self.uploads_before_loss: Counter[str] = Counter()  # when the server lost something

    def close(self) -> None:
        self.browser.kill()
        if self._theirs:
            self._theirs.kill()
        self.line.close()
        shutil.rmtree(self._profile, ignore_errors=True)

    # --- who is there ---

    @property
    def me(self) -> Passenger:
        """Whoever holds the phone, in the tab that was last looked at."""
        assert self._me
        return self._me

    def look_at(self, tab: Passenger) -> None:
        self._me = tab

    def begin(self, seed: int) -> None:
        """To the drive page of a new session, with a few taps done; all chance from the seed."""
        self.chance.seed(seed)
        self.uploads_before_loss.clear()
        if self._me is None:
            self.browser.start()
            self._me = Passenger(self.browser.own_context, self.line.url, self.chance, Ledger())
            self._me.open()
        else:
            self._me.end_recording()
            self._me.ledger = Ledger()
        self._me.start_session()
        self._me.act(self.chance.randint(1, 3))

    def start_browser(self) -> None:
        self.browser.start()
        self.me.context = self.browser.own_context

    def add_phone(self) -> Passenger:
        if self._theirs is None:
            self._theirs = Chromium(self._player, self._profile / "theirs")
            self._theirs.start()
        other = Passenger(self._theirs.new_context(), self.line.url, self.chance, Ledger())
        other.open()
        other.page.click(f"[data-remote='{self.me.session}']")
        other.accept_cautions()
        self._others.append(other)
        return other

    def add_tab(self) -> Passenger:
        other = Passenger(self.me.context, self.line.url, self.chance, self.me.ledger)
        other.session = self.me.session
        other.room_bytes = self.me.room_bytes
        other.come_back()
        return other

    # --- time passing ---

    def moment(self) -> None:
        """Somewhere between touch and confirmation, or shortly after."""
        self.me.page.wait_for_timeout(self.chance.choice([0, 5, 20, 60, 200]))

    def wait_synced(self) -> None:
        """Until the phones say that nothing is unsent, and nothing is."""
        for passenger in (self.me, *self._others):
            self._wait_synced(passenger)

    def _wait_noticed(self) -> None:
        """Until every phone has sent twice since the server lost something.

        A phone sees the loss in the answer to what it sends next, or looks by itself; the second
        upload says that it has taken the first one's answer in.
        """
        devices = {_device(one.stored()) for one in (self.me, *self._others)}
        stop_at = time.monotonic() + LONGEST_S
        while any(
            device in devices and self.line.uploads[device] < before + 2
            for device, before in self.uploads_before_loss.items()
        ):
            assert time.monotonic() < stop_at, "a phone hasn't looked at what the server holds"
            self.me.wait(0.2)

    def _wait_synced(self, passenger: Passenger) -> dict[str, list[dict[str, Any]]]:
        stop_at = time.monotonic() + LONGEST_S
        while True:
            if _says_synced(passenger) and not _unsent(rows := passenger.stored()):
                return rows
            if time.monotonic() > stop_at:
                left = _unsent(passenger.stored())[:2]
                said = passenger.phone.said()
                raise AssertionError(f"still unsent: {left}; the screen says '{said}'")
            passenger.wait(0.2)

    def finish(self, verdict: Verdict) -> None:
        """All disturbance over: wait until all is sent, then compare."""
        self.me.act()
        if self.chance.random() < 0.7:
            self.me.network_came_back()  # else it must find out by itself
        self._wait_noticed()
        phones = [(one, self._wait_synced(one)) for one in (self.me, *self._others)]
        held = self.laptop.session_file(self.me.session)
        for passenger, rows in phones:
            judge(verdict, passenger.ledger, _device(rows), held, rows)
        for other in self._others:
            other.context.close()
        self._others.clear()
        for page in self.me.context.pages:
            if page != self.me.page:
                page.close()


def _unsent(rows: dict[str, list[dict[str, Any]]]) -> list[dict[str, Any]]:
    kept = rows["records"] + rows["fixes"] + rows["photos"]
    unsent = [row for row in kept if row["state"] != "held"]
    return unsent + [row for row in rows["sessions"] if row["setup_unsent"]]


def _says_synced(passenger: Passenger) -> bool:
    return passenger.page.locator("[data-cell=sync] b").inner_text() == "all sent"


def _device(rows: dict[str, list[dict[str, Any]]]) -> str:
    """What the phone calls itself."""
    return next(str(row["doc"]["device"]) for row in rows["records"])
