"""Waiting for what must come: for the event itself, and far longer than any machine needs.

No test judges by the clock of a wall: what a loaded machine can't keep says nothing of the program.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

LONGEST_S = 300.0  # there for what hangs: nothing that works takes as long

T = TypeVar("T")


def wait_for(
    what: str | Callable[[], str],
    look: Callable[[], T],
    pause: Callable[[], object] = lambda: time.sleep(0.02),
) -> T:
    """Look until there is something, and give it.

    A pause of a browser's page lets the page, and what the test does for it, go on meanwhile.

    Raises:
        TimeoutError: it never came.
    """
    stop_at = time.monotonic() + LONGEST_S
    while not (found := look()):
        if time.monotonic() > stop_at:
            raise TimeoutError(f"never came: {what if isinstance(what, str) else what()}")
        pause()
    return found
