"""The values used last; every process may keep its own, for they can always be had again."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class RecentlyUsed(Generic[Key, Value]):
    """The values asked for last, at most so many; the one not asked for longest goes first.

    Threads take turns: of two who ask for the same at once, the second waits for the first's.
    """

    def __init__(self, most: int) -> None:
        """``most``: how many are kept."""
        self._most = most
        self._held: OrderedDict[Key, Value] = OrderedDict()
        self._turn = threading.Lock()

    def get(self, key: Key, make: Callable[[], Value]) -> Value:
        """The value of a key, made when it isn't held."""
        return self.renew(key, lambda held: make() if held is None else held)

    def renew(self, key: Key, change: Callable[[Value | None], Value]) -> Value:
        """The value of a key as ``change`` makes it from the one held, None when none is."""
        with self._turn:
            value = self._held[key] = change(self._held.get(key))
            self._held.move_to_end(key)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
            return value
