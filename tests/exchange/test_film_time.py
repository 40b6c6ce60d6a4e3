"""Records that count from a film's first frame, read into session time."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from exchange.documents import T_MS

from ebbline.errors import InputError
from ebbline.exchange.session_file import dump_document, load_document, to_session
from ebbline.measure.analysis import analyze

SAMPLE = Path(__file__).parents[2] / "sample_sessions" / "film-only.ebbline.json"


def event(name: str, device: str, t_ms: int, kind: str = "warning", **more: Any) -> dict[str, Any]:
    plain = {"id": name, "device": device, "t_ms": t_ms, "kind": kind, "tap_delay_s": 0.0}
    return {**plain, **more}


def filmed(*events: dict[str, Any], **session: Any) -> dict[str, Any]:
    """A film's warning at 30 s and reading at 40 s, beside other events."""
    reading = {
        "id": "r", "device": "film-1", "t_ms": 40_000, "t_to_ms": 40_040, "from": 0.9,
        "quantity": "trip_energy", "value": 1.0, "unit": "kWh", "resolution": 0.1,
    }  # fmt: skip
    return {
        "format": "ebbline-session", "version": 1,
        "session": {"id": "00000000-0000-4000-8000-000000000004", **session},
        "devices": [{"id": "film-1", "kind": "film", "label": "Dash"}, {"id": "phone-1"}],
        "events": [event("w", "film-1", 30_000), *events], "readings": [reading],
    }  # fmt: skip


def read(document: dict[str, Any]) -> dict[str, Any]:
    return load_document(json.dumps(document).encode())


def begins(document: dict[str, Any]) -> tuple[int, str]:
    """Where the first frame was placed and by what; every record of the film lies by it."""
    found = read(document)
    first = found["devices"][0]["first_frame"]
    own = [row for row in found["events"] + found["readings"] if row["device"] == "film-1"]
    assert {row["t_ms"] - row["film_ms"] for row in own} == {first["t_ms"]}
    assert found["readings"][0]["t_to_ms"] == first["t_ms"] + 40_040
    return first["t_ms"], first["by"]


def said(document: dict[str, Any]) -> tuple[str, str]:
    findings = analyze(to_session(read(document))).result.findings
    (placed,) = (finding for finding in findings if finding.code == "film_placed")
    return placed.severity, placed.message


def test_a_mark_that_states_its_second_of_film_places_the_first_frame():
    clap = event("m", "phone-1", T_MS, "film_sync", text=" dash", value=12.5)
    assert begins(filmed(clap)) == (T_MS - 12_500, "film_sync")
    late = clap | {"tap_delay_s": {"mean": 0.5, "sd": 0.2}}
    assert begins(filmed(late)) == (T_MS - 13_000, "film_sync")
    assert to_session(read(filmed(late))).devices[0].clock_offset_sd_ms == pytest.approx(200)
    severity, message = said(filmed(late))
    assert severity == "note"
    assert "placed by the film sync marks" in message
    assert "0.2 s" in message


def test_marks_without_a_second_of_film_are_those_of_the_film_in_order():
    marks = [
        event("m1", "phone-1", T_MS, "film_sync"),
        event("m2", "phone-1", T_MS + 9_000, "film_sync"),
        event("f1", "film-1", 5_000, "film_sync"),
        event("f2", "film-1", 14_000, "film_sync"),
    ]
    assert begins(filmed(*marks)) == (T_MS - 5_000, "film_sync")
    assert begins(filmed(*marks[:3]))[1] == "nothing"  # which of the two it is can't be told


def test_another_films_marks_place_nothing_and_marks_that_disagree_say_so():
    """0.2 s each and 2 s apart: the middle is unsure by half of that."""
    late = {"tap_delay_s": {"mean": 0.0, "sd": 0.2}}
    marks = [
        event("m1", "phone-1", T_MS, "film_sync", value=10.0, **late),
        event("m2", "phone-1", T_MS + 9_000, "film_sync", value=17.0, **late),
        event("g", "film-2", 3_000, "film_sync", value=3.0),
    ]
    document = filmed(*marks)
    document["devices"].append({"id": "film-2", "kind": "film"})
    assert begins(document) == (T_MS - 9_000, "film_sync")
    assert to_session(read(document)).devices[0].clock_offset_sd_ms == pytest.approx(1000, abs=1)


def test_a_mark_of_another_camera_or_one_taken_back_places_nothing():
    other = event("m", "phone-1", T_MS, "film_sync", text="chase", value=12.5)
    back = event("b", "phone-1", T_MS, "note", corrects="m", withdraws=True)
    started = "2026-03-02T15:04:05+01:00"
    for marks in ([other], [{**other, "text": None}, back]):
        assert begins(filmed(*marks, started_at=started)) == (1_772_460_245_000, "started_at")


def test_without_a_mark_the_film_begins_with_the_session():
    """Which is all that a film alone needs, and a guess beside other devices."""
    alone = filmed(started_at="2026-03-02T15:04:05+01:00")
    assert begins(alone) == (1_772_460_245_000, "started_at")
    assert said(alone)[0] == "note"
    beside = filmed(event("p", "phone-1", T_MS), started_at="2026-03-02T15:04:05+01:00")
    assert said(beside)[0] == "doubt"
    assert "the start of the session" in said(beside)[1]
    severity, message = said(filmed())
    assert severity == "doubt"
    assert "made up" in message


def test_what_was_placed_is_written_and_read_again_as_it_is():
    found = read(filmed(event("m", "phone-1", T_MS, "film_sync", value=12.5)))
    assert load_document(dump_document(found)) == found


@pytest.mark.parametrize(
    ("row", "t_ms"), [("phone-1", 30_000), ("film-1", -1), ("film-1", 8 * 86_400_000)]
)
def test_a_time_that_is_neither_is_refused_with_its_place(row: str, t_ms: int):
    with pytest.raises(InputError, match=r"events\[1\]\.t_ms: is .*milliseconds since 1970"):
        read(filmed(event("x", row, t_ms)))


@pytest.mark.parametrize("broken", [{"devices": 5}, {"events": [5]}, {"readings": {}}])
def test_a_file_that_is_no_session_is_refused_as_ever(broken: dict[str, Any]):
    with pytest.raises(InputError):
        read({**filmed(), **broken})


def test_a_sample_in_film_time_says_the_same():
    sample = load_document(SAMPLE.read_bytes())
    by_frames = deepcopy(sample)
    start_ms = 1_772_889_600_000  # 2026-03-07T13:20Z, where its film begins
    for row in by_frames["events"] + by_frames["readings"]:
        for key in row.keys() & {"t_ms", "t_to_ms"}:
            row[key] -= start_ms
    placed = read(by_frames)
    assert to_session(placed).events == to_session(sample).events
    assert to_session(placed).readings == to_session(sample).readings
