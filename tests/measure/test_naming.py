"""Words of findings: what somebody would say, never an id."""

import pytest

from ebbline.measure.findings import Findings
from ebbline.measure.naming import (
    clock_time,
    day_time,
    duration,
    lasting,
    length,
    named,
    stamped,
)
from ebbline.records.evidence import Event, Reading
from ebbline.records.result import Finding

T_S = 482_196_050.52  # 1985-04-12T23:20:50.52Z, the example of RFC 3339, 5.8


def test_moments_are_told_to_the_second_and_days_to_the_minute():
    assert clock_time(T_S) == "23:20:51"
    assert day_time(T_S) == "1985-04-12 23:20"
    assert named("Warning", T_S) == "\u201cWarning\u201d at 23:20:51 UTC"


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "0 min"),
        (60, "1 min"),
        (3600, "1 h"),
        (5400, "1 h 30 min"),
        (3 * 86_400 + 3600, "3 d 1 h"),
    ],
)
def test_durations_leave_out_what_is_nought(seconds: int, said: str):
    assert duration(seconds) == said


def test_short_times_are_told_in_seconds_and_long_ways_in_kilometres():
    assert (lasting(119), lasting(120)) == ("119 s", "2 min")
    assert (length(9_999), length(10_000)) == ("9999 m", "10 km")


def test_a_record_is_told_by_its_kind_and_stamp_not_by_its_id():
    event = Event("secret-id", "phone", 1_772_460_000_000, "zero_soc")
    reading = Reading("other-id", "phone", 1_772_460_000_000, "trip_energy", 1.0, "kWh")
    for record in (event, reading):
        told = stamped(record)
        assert record.id not in told
        assert told.endswith("at 14:00:00 UTC")


def test_findings_keep_the_order_of_their_steps_and_hand_on_the_part():
    first, second = (Finding("note", code, "…", "events") for code in ("a", "b"))
    findings = Findings()
    assert findings.of((41, [first])) == 41
    assert findings.of((None, [second])) is None
    assert [finding.code for finding in findings] == ["a", "b"]
