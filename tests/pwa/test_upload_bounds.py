"""What the phone sends at once is well within what one upload may hold."""

from __future__ import annotations

import re
from pathlib import Path

from ebbline.sessions.records.uploads import MOST_ENTRIES, MOST_FIXES, MOST_RECORDS

PWA = Path(__file__).parents[2] / "pwa"


def constant(file: str, name: str) -> int:
    found = re.search(rf"const {name} = (\d+);", (PWA / file).read_text())
    assert found is not None
    return int(found[1])


def test_what_a_phone_sends_at_once_is_taken() -> None:
    records = constant("capture/sending/sending.js", "MOST_RECORDS")
    chunks = constant("capture/sending/sending.js", "MOST_CHUNKS")
    assert records * 2 <= MOST_RECORDS
    assert chunks * 2 <= MOST_ENTRIES
    assert chunks * constant("capture/position/gps.js", "MOST_AT_ONCE") <= MOST_FIXES
