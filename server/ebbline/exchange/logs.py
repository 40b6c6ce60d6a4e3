"""Logs of power: columns that a recorder in the car wrote, checked and read as arrays."""

from __future__ import annotations

from typing import Any

import numpy as np

from ebbline.errors import TooLargeError
from ebbline.exchange.columns import Range, check_numbers, check_times, numbers_of
from ebbline.exchange.fields import Name, Sha256, Text
from ebbline.exchange.json_text import check_plain, join
from ebbline.exchange.schemas import Open, check
from ebbline.records.evidence import PowerLog

MAX_ROWS = 1_000_000  # of one log: 28 hours at 10 Hz

# Columns beside t_ms, with what we take in each. Current and power count out of the pack as
# positive, and into it (regeneration, charging) as negative.
LOG_COLUMNS = {
    "voltage_v": Range(low=0),
    "current_a": Range(),
    "power_kw": Range(),
    "speed_mps": Range(low=0),
    "soc_pct": Range(0, 100),
}


class LogSchema(Open):
    """A log without its columns. ``source_sha256`` is the hash of the file it was read from."""

    device = Name(required=True)
    label = Text()
    source_sha256 = Sha256(required=True)


_LOG = LogSchema()


def check_log(raw: object, where: str) -> None:
    """Check one log.

    Args:
        raw: the log as parsed.
        where: its place, for example ``logs[0]``.

    Raises:
        InputError: names the column and the row.
        TooLargeError: more than ``MAX_ROWS`` rows.
    """
    columns = {"t_ms", *LOG_COLUMNS}
    head = {k: v for k, v in raw.items() if k not in columns} if isinstance(raw, dict) else raw
    check_plain(head, where)
    check(_LOG, head, where)
    assert isinstance(raw, dict)
    if isinstance(raw.get("t_ms"), list) and len(raw["t_ms"]) > MAX_ROWS:
        problem = f"has {len(raw['t_ms']):,} values; {MAX_ROWS:,} are the most we take"
        raise TooLargeError(join(where, "t_ms"), problem)
    count = check_times(raw, where, "(a log runs forward)")
    check_numbers(raw, LOG_COLUMNS, where, "t_ms", count)


def to_log(raw: dict[str, Any]) -> PowerLog:
    """The typed view of a checked log; what is null or absent is NaN."""
    count = len(raw["t_ms"])
    return PowerLog(
        device=raw["device"],
        label=raw.get("label"),
        t_ms=np.array(raw["t_ms"], dtype=np.int64),
        voltage_v=numbers_of(raw, "voltage_v", count),
        current_a=numbers_of(raw, "current_a", count),
        power_kw=numbers_of(raw, "power_kw", count),
        speed_mps=numbers_of(raw, "speed_mps", count),
        soc_pct=numbers_of(raw, "soc_pct", count),
    )
