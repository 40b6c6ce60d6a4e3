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
    speed,
    stamped,
)
from ebbline.records.evidence import Event, Reading
from ebbline.records.phrases import Phrase
from ebbline.records.result import Finding


def plain(message: str) -> str:
    return Finding("note", "any", message, "events").message


T_S = 482_196_050.52  # 1985-04-12T23:20:50.52Z, the example of RFC 3339, 5.8


def test_moments_are_told_to_the_second_and_days_to_the_minute():
    assert plain(clock_time(T_S)) == "23:20:51 UTC"
    assert plain(day_time(T_S)) == "1985-04-12 23:20 UTC"
    assert plain(named("Warning", T_S)) == "\u201cWarning\u201d at 23:20:51 UTC"


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
    told = map(plain, (length(9_999), length(10_000), length(2199.96, 1), speed(17.0)))
    assert list(told) == ["9999 m", "10 km", "2200.0 m", "61 km/h"]


def test_a_record_is_told_by_its_kind_and_stamp_not_by_its_id():
    event = Event("secret-id", "phone", 1_772_460_000_000, "zero_soc")
    reading = Reading("other-id", "phone", 1_772_460_000_000, "trip_energy", 1.0, "kWh")
    for record in (event, reading):
        told = plain(stamped(record))
        assert record.id not in told
        assert told.endswith("at 14:00:00 UTC")


def test_a_finding_can_be_told_in_its_parts():
    """So that a reader gets its figures on his own clock and in his units."""
    said = Finding("note", "any", f"{named('Warning', T_S)}, {length(12.4)} on", "events")
    assert said.message == "\u201cWarning\u201d at 23:20:51 UTC, 12 m on"
    assert said.told == (
        Phrase("\u201cWarning\u201d at "),
        Phrase("23:20:51 UTC", "t_ms", 482_196_050_520.0),
        Phrase(", "),
        Phrase("12 m", "distance_m", 12.4),
        Phrase(" on"),
    )
    assert Finding("note", "any", "Nothing to count.", "events").told == ()
    for odd in ("\ue000t_ms x 12\ue001", "\ue000any 1.0 12\ue001", "\ue000t_ms 1e999 12\ue001"):
        assert Finding("note", "any", odd, "events").told == ()  # a person's text may hold anything


def test_findings_keep_the_order_of_their_steps_and_hand_on_the_part():
    first, second = (Finding("note", code, "…", "events") for code in ("a", "b"))
    findings = Findings()
    assert findings.of((41, [first])) == 41
    assert findings.of((None, [second])) is None
    assert [finding.code for finding in findings] == ["a", "b"]
