"""The table of cases that server and browser share, as session files hold such records."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

Case = dict[str, Any]
SHARED: dict[str, list[Case]] = json.loads(Path(__file__).with_name("cases.json").read_bytes())
STANDING, ZERO, TICKS = SHARED["standing"], SHARED["zero"], SHARED["ticks"]
CREW = SHARED["crew"]
NO_DELAY = {"tap_delay_s": {"mean": 0.0, "sd": 0.0}}


def name_of(case: Case) -> str:
    """What a case shows."""
    return str(case["name"])


def event(record: dict[str, Any], zero_ms: int = 0) -> dict[str, Any]:
    """A record of the table as an event."""
    return {"device": "p", "kind": "note", **record, "t_ms": zero_ms + record.get("t_ms", 0)}


def reading(record: dict[str, Any], zero_ms: int = 0) -> dict[str, Any]:
    """A record of the table as a reading: one without a value withdraws."""
    rest = {key: value for key, value in record.items() if key != "withdraws"}
    shown = {"device": "p", "quantity": "soc", "unit": "%", "value": 3.0}
    withdrawn = {"value": None} if record.get("withdraws") else {}
    return {**shown, **rest, **withdrawn, "t_ms": zero_ms + record.get("t_ms", 0)}


def protocol(case: Case, zero_ms: int = 0) -> dict[str, Any]:
    """A case's protocol, its chosen moment put off as its events are; taps are never late."""
    stated = {**NO_DELAY, **case.get("protocol", {})}
    if "zero_ms" in stated:
        stated["zero_ms"] += zero_ms
    return stated
