"""Heavy libraries, imported by the first test that uses them and not by every process of tests."""

from __future__ import annotations

import importlib.util
import sys
from typing import Any


def lazily(name: str) -> Any:
    """The module, loaded at the first look at anything in it.

    Raises:
        ModuleNotFoundError: it isn't installed.
    """
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.find_spec(name)
    if spec is None or spec.loader is None:
        raise ModuleNotFoundError(f"no module named {name!r}", name=name)
    spec.loader = importlib.util.LazyLoader(spec.loader)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
