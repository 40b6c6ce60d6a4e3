"""The published JSON Schemas say what the program checks.

Judge: the library jsonschema, an implementation of JSON Schema 2020-12 by others. Each broken
document goes to it and to the program; what one refuses the other must refuse, but for rules that
JSON Schema can't express, which are listed here by the program's own words.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from exchange.documents import T_MS, a_document, at, documents
from hypothesis import HealthCheck, given, settings
from jsonschema import Draft202012Validator

from ebbline.compare.comparison import compare
from ebbline.errors import InputError
from ebbline.exchange import (
    comparison_document,
    published_campaign,
    result_document,
    session_file,
)
from ebbline.exchange.document import MAX_RECORDS
from ebbline.exchange.drives import drive_of
from ebbline.exchange.json_schema.documents import SCHEMAS
from ebbline.records.campaign import (
    Definition,
    PublishedCampaign,
    PublishedSession,
    SetAside,
)
from ebbline.sessions.results.analysis import analyze_document
from ebbline.vocabulary import EVENTS, FACTS, READINGS

SAMPLES = sorted((Path(__file__).parents[2] / "sample_sessions").glob("*.ebbline.json"))
SESSION, RESULT, COMPARISON, PUBLISHED = (
    Draft202012Validator(SCHEMAS[name]())
    for name in ("session", "result", "comparison", "published-campaign")
)
Path_ = tuple[str | int, ...]
GONE = object()

# What the program refuses and JSON Schema can't say: the program's words, and a case of each.
BEYOND: dict[str, tuple[str, Path_, Any]] = {
    "columns of one length": (r"values where \w+ has", ("breadcrumbs", 0, "lat"), []),
    "seq rises": ("is not above the one before it", ("breadcrumbs", 0, "seq", 1), 0),
    "time runs forward": ("is earlier than the one before it", ("breadcrumbs", 0, "t_ms", 0),
                          T_MS + 9000),
    "an id once": ("is also ", ("events", 2, "id"), "e0"),
    "a correction of something else": ("the record itself", ("events", 0, "corrects"), "e0"),
    "corrections that end": ("leads back", ("events", 0, "corrects"), "e2"),
    "a band's order": ("runs from .* down to", ("protocol", "speed_band_kmh", 0), 95),
    "an exclusion's order": ("lies before from_ms", ("excluded", 0, "from_ms"), T_MS + 1),
    "a change's order": ("lies before t_ms", ("readings", 0, "t_to_ms"), T_MS - 1),
    "a change": ("it didn't change", ("readings", 0, "from"), 1.2),
    "film time": ("milliseconds since 1970", ("events", 0, "t_ms"), 5),
    "the calendar": ("no such time", ("session", "started_at"), "2026-02-30T15:04:05Z"),
    "the time zones": ("not a known time zone", ("session", "time_zone"), "Nowhere/Land"),
    "a whole number's spelling": (r"is -?\d+\.0; a whole number is needed",
                                  ("vehicle", "pack", "series_cells"), 96.0),
    "integers of 64 bits": ("64 are the most", ("x-ours",), 2**64),
}  # fmt: skip
VALUES: tuple[Any, ...] = (
    GONE, None, True, False, 0, -1, 0.5, 7.0, 101, 400, 1e8, 1e30, 2**64, T_MS + 1, "", "x", "a\0b",
    "x" * 101, "km", "kWh", "AB" * 32, "ab" * 32, "2026-02-30T15:04:05Z", "2026-03-02 15:04:05Z",
    [], [1], [90, 50], {}, {"mean": 1, "sd": -1},
)  # fmt: skip


def rich_document() -> dict[str, Any]:
    """The small document with every key that we know."""
    document = a_document() | {"x-ours": 1}
    for place, fact in FACTS.items():
        *parents, key = place.split(".")
        part = document
        for parent in parents:
            part = part.setdefault(parent, {})
        part[key] = {"text": "a", "flag": True, "whole": 5, "number": 1}[fact.kind]
    document["vehicle"]["pack"]["usable_kwh"] = 58
    document["conditions"]["tyre_kpa"] = 290
    document["protocol"] |= {"reading_delay_s": {"mean": 3, "sd": 1}, "zero_basis": "moment",
                             "zero_ms": T_MS, "reserve_end": "standstill", "which_end": "first",
                             "held_speed_kmh": 90}  # fmt: skip
    document["course"] |= {"checked_lap": {"length_m": 2400, "sd_m": 1},
                           "full_throttle_grade_pct": 1,
                           "full_throttle_grade_sd_pct": 0.5}  # fmt: skip
    document["devices"][0] |= {
        "label": "a",
        "kind": "film",
        "frame_rate": 25,
        "first_frame": {"t_ms": T_MS, "sd_ms": 5, "by": "film_sync"},
    }
    document["excluded"] = [{"device": "phone-1", "from_ms": T_MS, "to_ms": T_MS, "reason": "a"}]
    document["logs"] = [
        {"device": "logger", "label": "a", "source_sha256": "cd" * 32, "t_ms": [T_MS],
         "voltage_v": [300], "current_a": [-1.5], "power_kw": [None], "speed_mps": [20],
         "soc_pct": [4]},
    ]  # fmt: skip
    document["breadcrumbs"][0] |= {"fix_ms": [1, 2, None], "wall_ms": [1, 2, 3.5]}
    document["events"].append(
        {"id": "e2", "device": "desk", "t_ms": T_MS, "kind": "note", "corrects": "e1",
         "withdraws": True, "tap_delay_s": {"mean": 1, "sd": 0.5}, "by": "a", "class": "other",
         "done_by": "car"},
    )  # fmt: skip
    document["readings"][0] |= {"about": True, "from": 1.1, "t_to_ms": T_MS + 40}
    return document


def small_documents() -> Iterator[dict[str, Any]]:
    """The rich document in parts: its set-up, then each record alone."""
    document = rich_document()
    lists = {key: document.pop(key) for key in
             ("breadcrumbs", "events", "readings", "photos", "logs")}  # fmt: skip
    yield document
    bare = {key: document[key] for key in ("format", "version", "session")}
    for key, records in lists.items():
        yield from ({**bare, key: [record]} for record in records)


def paths(part: Any, here: Path_ = ()) -> Iterator[Path_]:
    steps = part.items() if isinstance(part, dict) else enumerate(part)
    for key, inner in steps:
        yield (*here, key)
        if isinstance(inner, (dict, list)):
            yield from paths(inner, (*here, key))


def broken(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The document with each part in turn gone, or another value."""
    for number, path in enumerate(paths(document)):
        for value in VALUES[number % 2 :: 2]:  # all of them would say hardly more
            changed = deepcopy(document)
            parent = at(changed, path[:-1])
            if value is not GONE:
                parent[path[-1]] = value
            elif isinstance(parent, list):
                continue
            else:
                del parent[path[-1]]
            yield f"{path} {'gone' if value is GONE else repr(value)}", changed


def refusal(document: dict[str, Any]) -> str | None:
    try:
        session_file.check_document(document)
    except InputError as error:
        return error.problem
    return None


def test_each_schema_is_one() -> None:
    for make in SCHEMAS.values():
        Draft202012Validator.check_schema(make())


@pytest.mark.slow
def test_schema_and_program_refuse_the_same_session_files() -> None:
    assert refusal(rich_document()) is None
    assert SESSION.is_valid(rich_document())
    refused = 0
    for document in small_documents():
        for what, changed in broken(document):
            problem, valid = refusal(changed), SESSION.is_valid(changed)
            if not valid:
                assert problem, f"{what}: only the schema refuses it"
                refused += 1
            elif problem:
                beyond = any(re.search(said, problem) for said, _, _ in BEYOND.values())
                assert beyond, f"{what}: only the program refuses it: {problem}"
    assert refused > 1000


@pytest.mark.parametrize("rule", BEYOND)
def test_what_only_the_program_refuses(rule: str) -> None:
    said, path, value = BEYOND[rule]
    document = rich_document()
    at(document, path[:-1])[path[-1]] = value
    problem = refusal(document)
    assert problem
    assert re.search(said, problem)
    assert SESSION.is_valid(document)


def test_schema_and_program_take_the_same_values_and_units_of_every_kind() -> None:
    bare = {"format": "ebbline-session", "version": 1, "session": a_document()["session"]}
    base = {"id": "a", "device": "a", "t_ms": T_MS}
    units = (None, "km", "kWh", "%")
    cases = [("events", {**base, "kind": kind}) for kind in EVENTS]
    cases += [("readings", {**base, "quantity": quantity}) for quantity in READINGS]
    refused = 0
    for key, record in cases:
        for unit in units:
            for value in (None, -0.1, 0, 101):
                document = {**bare, key: [{**record, "value": value, "unit": unit}]}
                problem = refusal(document)
                assert SESSION.is_valid(document) == (problem is None), (record, unit, value)
                refused += problem is not None
    assert refused > 100


def test_both_take_as_many_records() -> None:
    for key in ("breadcrumbs", "events", "readings", "photos", "logs"):
        assert SCHEMAS["session"]()["properties"][key]["maxItems"] == MAX_RECORDS


@pytest.fixture(scope="module")
def analysed() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """The samples and what they mean."""
    found = []
    for sample in SAMPLES:
        document = session_file.load_document(sample.read_bytes())
        result = analyze_document(document).result
        found.append((document, result_document.to_document(result, "0" * 64)))
    return found


Analysed = list[tuple[dict[str, Any], dict[str, Any]]]


def compared(analysed: Analysed) -> dict[str, Any]:
    return comparison_document.to_document(compare([drive_of(*pair) for pair in analysed]))


def published(analysed: Analysed) -> dict[str, Any]:
    """What would be frozen of a campaign of the samples."""
    ids = [UUID(result["session_id"]) for _, result in analysed]
    definition = Definition("Winter", session_ids=tuple(ids), left_out=(SetAside(ids[0], "wet"),))
    looked_at = tuple(PublishedSession(one, "a car", "0" * 64, 1) for one in ids)
    made_of = PublishedCampaign(ids[0], definition, looked_at)
    return published_campaign.to_document(made_of, compared(analysed))


def first_of_each(part: Any) -> Any:
    """The document with one entry in each list of objects."""
    if isinstance(part, dict):
        return {key: first_of_each(inner) for key, inner in part.items()}
    if isinstance(part, list) and part and isinstance(part[0], dict):
        return [first_of_each(part[0])]
    return part


def written(document: dict[str, Any]) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(json.dumps(document))
    return read


@pytest.mark.slow
def test_samples_their_results_and_their_comparison_are_valid(analysed: Analysed) -> None:
    assert len(analysed) >= 4
    for document, result in analysed:
        assert [error.message for error in SESSION.iter_errors(document)] == []
        assert [error.message for error in RESULT.iter_errors(written(result))] == []
    assert [error.message for error in COMPARISON.iter_errors(written(compared(analysed)))] == []


@pytest.mark.slow
def test_a_result_comparison_or_publication_without_a_key_or_with_another_type_is_none(
    analysed: Analysed,
) -> None:
    """Nothing reads these documents but through their records, which have every key."""
    result = next(result for _, result in analysed if result["recharge"])
    for schema, found in (
        (RESULT, result), (COMPARISON, compared(analysed)), (PUBLISHED, published(analysed)),
    ):  # fmt: skip
        document = first_of_each(written(found))
        assert schema.is_valid(document)
        for path in list(paths(document)):
            parent = at(document, path[:-1])
            held = parent[path[-1]]
            parent[path[-1]] = {"a": held} if isinstance(held, list) else [held]
            assert not schema.is_valid(document), path
            if isinstance(parent, dict):
                del parent[path[-1]]
                assert not schema.is_valid(document), path
            parent[path[-1]] = held


@pytest.mark.slow
@settings(max_examples=40, suppress_health_check=list(HealthCheck), deadline=None)
@given(documents())
def test_any_session_file_that_the_program_takes_is_valid(document: dict[str, Any]) -> None:
    session_file.check_document(document)
    assert [error.message for error in SESSION.iter_errors(document)] == []
