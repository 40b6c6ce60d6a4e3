"""Heavy libraries, imported by the first test that uses them and not by every process of tests."""

from __future__ import annotations

import importlib
import importlib.util
from typing import Any


class Lazily:
    """A module that is loaded at the first look at anything in it."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):  # pytest asks whatever a test file names whether it is a fixture
            raise AttributeError(name)
        return getattr(importlib.import_module(self._name), name)


def lazily(name: str) -> Any:
    """The module, loaded at the first look at anything in it.

    Raises:
        ModuleNotFoundError: its package isn't installed.
    """
    package = name.partition(".")[0]
    if importlib.util.find_spec(package) is None:
        raise ModuleNotFoundError(f"no module named {package!r}", name=package)
    return Lazily(name)
