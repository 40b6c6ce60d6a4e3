"""What computes results, by name: our version and a digest of the code that a result depends on.

Result, report, list and cache all name this one engine, so that no cached result outlives a change
to what made it, and a reader can tell two results apart that different code has made.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from ebbline import __version__

# Modules and packages (with all below them) between a session's evidence and its result document:
# the core, what reads a document into records and writes the result, and what puts the document
# together from the database. A test holds this against what the analysis really imports.
PARTS = (
    "measure",
    "records",
    "vocabulary",
    "errors",
    "exchange.clock_checks",
    "exchange.columns",
    "exchange.document",
    "exchange.fields",
    "exchange.json_text",
    "exchange.logs",
    "exchange.plain",
    "exchange.result_document",
    "exchange.schemas",
    "exchange.view",
    "sessions.records.document",
    "store.breadcrumbs",
)

# What a comparison of sessions depends on besides; a change to it leaves their results as they are.
COMPARISON_PARTS = (
    "compare",
    "exchange.comparison_document",
    "exchange.drives",
    "exchange.facts",
)


@cache
def engine_id() -> str:
    """The engine's identity, for example ``ebbline 0.1.0 core 0f3ac9e2b1d4``."""
    return f"ebbline {__version__} core {_digest(PARTS)}"


@cache
def comparison_engine_id() -> str:
    """The same of a comparison: ``ebbline 0.1.0 core 0f3ac9e2b1d4 compare 81d0b7c6a952``."""
    return f"{engine_id()} compare {_digest(COMPARISON_PARTS)}"


def _digest(parts: tuple[str, ...]) -> str:
    digest = hashlib.sha256()
    for path, file in _files(parts):
        content = file.read_bytes()
        digest.update(f"{path} {len(content)}\n".encode())
        digest.update(content)
    return digest.hexdigest()[:12]


def _files(parts: tuple[str, ...]) -> Iterator[tuple[str, Traversable]]:
    """Every file of the parts with its path in our package, in an order that never changes."""
    package = resources.files("ebbline")
    for part in parts:
        path = part.replace(".", "/")
        module = package / f"{path}.py"
        if module.is_file():
            yield f"{path}.py", module
        else:
            yield from _below(package / path, path)  # raises where a part isn't there any more


def _below(folder: Traversable, path: str) -> Iterator[tuple[str, Traversable]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir() and entry.name != "__pycache__":
            yield from _below(entry, f"{path}/{entry.name}")
        elif entry.is_file():
            yield f"{path}/{entry.name}", entry
