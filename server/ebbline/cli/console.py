"""Where tables and progress are printed."""

from __future__ import annotations

from rich.console import Console

FILE_WIDTH = 120  # of what is printed into a file or a pipe, which have no width of their own


def console() -> Console:
    """Standard output; nothing in what is printed is taken for markup."""
    found = Console(markup=False, highlight=False)
    if not found.is_terminal:
        found.width = FILE_WIDTH
    return found
