"""A finding told alike at the desk and on paper: on the session's clock, in the reader's units."""

from __future__ import annotations

import dataclasses
from typing import Any

import javascript
import pytest

from ebbline.measure.naming import clock_time, day_time, length, speed
from ebbline.records.result import Finding
from ebbline.report.figures import Units
from ebbline.report.session_clock import SessionClock
from ebbline.report.telling import told

# The desk's own clock is asked in its own tests; two hours ahead.
TOLD = """({ told }, [finding, distance]) => {
  const local = (ms) => new Date(ms + 7_200_000).toISOString();
  const time = (ms) => local(Math.round(ms / 1000) * 1000).slice(11, 19);
  return told(finding, { time, date: (ms) => local(ms).slice(0, 10) }, { distance });
}"""
T_S = 482_196_050.52  # 1985-04-12T23:20:50.52Z, the example of RFC 3339, 5.8
SAID = (
    f"At {clock_time(T_S)}, {day_time(T_S)}: {length(346)}, {length(2199.96, 1)}, {length(78_940)} "
    f"and {speed(27.8)}."
)


@pytest.mark.parametrize(
    ("distance", "says"),
    [
        ("km", "At 01:20:51, {day}: 346 m, 2200.0 m, 79 km and 100 km/h."),
        ("mi", "At 01:20:51, {day}: 0.215 mi, 1.3670 mi, 49.05 mi and 62 mph."),
    ],
)
def test_a_finding_in_the_readers_units(distance: Any, says: str) -> None:
    finding = Finding("note", "any", SAID, "events")
    clock = SessionClock.of({"session": {"time_zone": "Europe/Vienna"}})  # two hours ahead
    on_paper = told(finding, clock, Units(distance)).replace("\u00a0", " ")
    assert on_paper == says.format(day="1985-04-13 01:20")
    document = dataclasses.asdict(finding)
    at_the_desk = javascript.evaluate("desk/words/told.js", TOLD, [document, distance])
    assert at_the_desk.replace("\u00a0", " ") == says.format(day="1985-04-13, 01:20")
