"""What files that people save are called; the pages' own follow the same rule."""

from __future__ import annotations

import re

_MOST = 60  # characters of each part


def file_name(*parts: str) -> str:
    """Parts of a name as the beginning of a file's: 'winter-cars-ladders', empty where none has a
    letter or digit.
    """
    plain = (re.sub(r"[\W_]+", "-", part.lower()).strip("-")[:_MOST] for part in parts)
    return "-".join(part for part in plain if part)
