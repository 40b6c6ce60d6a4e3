"""The vocabulary against the session file's own lists, the pages' copy and itself."""

import json
import re
from pathlib import Path

import pytest

from ebbline.vocabulary import (
    EVENTS,
    FACTS,
    GROUPS,
    LANDMARKS,
    PHASES,
    READINGS,
    RESERVE_ENDS,
    ROUNDINGS,
    ZERO_BASES,
    event_words,
    usual_resolution,
)
from ebbline.vocabulary.javascript import TABLE, javascript
from ebbline.web.app import create_app

CONTRACT = (Path(__file__).parent / "contract.md").read_text("utf-8")
WORDS = json.loads((Path(__file__).parent / "words.json").read_text("utf-8"))
THUMB = 6  # keys that lie under it


def section(name: str) -> str:
    return CONTRACT.split(f"## {name}\n")[1].split("\n## ")[0]


def named(text: str) -> list[str]:
    return re.findall(r"`(\w+)`", text)


def test_the_kinds_are_the_contracts():
    first = section("Event kinds").split(". A kind that a reader")[0]
    units = ("km", "mph")
    version_1 = [kind for kind in re.findall(r"`([a-z_/]+)`", first) if kind not in units]
    version_1 = [kind for kind in version_1 if "/" not in kind]
    added = re.findall(r'"kind": "(\w+)"', section("Additions to version 1 (readers that don't "
                                                   "know them keep them)"))  # fmt: skip
    assert set(EVENTS) == {*version_1, *added} - {"film"}  # a kind of device


def test_the_quantities_and_their_units_are_the_contracts():
    listed = section("Reading quantities").split("\nA reading says")[0]
    units: dict[str, set[str]] = {}
    waiting: list[str] = []
    for name, said in re.findall(r"`(\w+)`(?: \(([^)]*)\))?", listed):
        waiting.append(name)
        if said:
            shown = {re.sub(r" since.*", "", unit) for unit in re.split(r", | or ", said)}
            units |= {key: {"%" if "%" in unit else unit for unit in shown} for key in waiting}
            waiting = []
    added = re.findall(r'"quantity": "(\w+)".*?"unit": "(\w+)"', CONTRACT)
    units |= {name: {unit} for name, unit in added if name not in units}
    assert {name: set(known.units) for name, known in READINGS.items()} == units


def test_what_an_event_can_say_is_the_contracts():
    def words(after: str, until: str) -> set[str]:
        return set(re.findall(r"\w+", CONTRACT.split(after)[1].split(until)[0])) - {"or"}

    assert EVENTS["warning"].choices.key == "class"
    assert set(EVENTS["warning"].choices.words) == words("// classes: ", "\n")
    assert set(EVENTS["assist_change"].choices.words) == {
        "disengaged",
        *words('"text": "disengaged"},        // or ', ";"),
    }
    assert set(EVENTS["restart"].choices.words) == {"succeeded", "failed"}
    assert re.search(r'"restart", "text": "succeeded"}, +// or "failed":', CONTRACT)


def test_zero_and_end_are_kinds():
    assert {*ZERO_BASES} - {"moment"} <= {*EVENTS}
    assert {*RESERVE_ENDS} <= {*EVENTS}
    assert all(known.rounding in ROUNDINGS for known in READINGS.values())


def test_the_pages_copy_is_the_table():
    assert TABLE.read_text("utf-8") == javascript(), "run: python -m ebbline.vocabulary"


def test_the_api_describes_the_same(tmp_path):
    app = create_app(f"sqlite:///{tmp_path / 'x.sqlite3'}", str(tmp_path / "photos"))
    schemas = app.test_client().get("/api/openapi.json").get_json()["components"]["schemas"]
    assert schemas["Reading"]["properties"]["quantity"]["enum"] == [*READINGS]
    assert schemas["Reading"]["properties"]["rounding"]["enum"] == [*ROUNDINGS, None]
    assert schemas["Protocol"]["properties"]["zero_basis"]["enum"] == [*ZERO_BASES, None]
    assert schemas["Protocol"]["properties"]["reserve_end"]["enum"] == [*RESERVE_ENDS, None]
    event = schemas["Event"]["properties"]
    assert all(kind in event["kind"]["description"].split(", ") for kind in EVENTS)
    assert all(name in event["class"]["description"] for name in EVENTS["warning"].choices.words)


@pytest.mark.parametrize("phase", PHASES)
def test_a_phase_has_as_many_keys_as_a_thumb_reaches_each_in_a_place_of_its_own(phase):
    keys = {
        known.key.switch or kind: known.key.places[phase]
        for kind, known in EVENTS.items()
        if phase in known.key.places
    }
    assert sorted(keys.values()) == [*range(1, THUMB + 1)]


@pytest.mark.parametrize("phase", PHASES)
def test_the_pads_first_tiles_have_places_of_their_own(phase):
    places = [known.places[phase] for known in READINGS.values() if phase in known.places]
    assert sorted(places) == [*range(1, len(places) + 1)]
    assert all(known.on_pad for known in READINGS.values() if known.places)


def test_two_kinds_share_a_key_only_as_a_switch():
    by_place: dict[tuple[str, int], set[str]] = {}
    for kind, known in EVENTS.items():
        for phase, place in known.key.places.items():
            by_place.setdefault((phase, place), set()).add(known.key.switch or kind)
    assert all(len(names) == 1 for names in by_place.values())


def test_names_tell_kinds_apart():
    for table in (EVENTS, READINGS):
        names = [known.name for known in table.values()]
        assert len({*names}) == len(names)
    assert {known.group for known in EVENTS.values()} == {*GROUPS}


def test_landmarks_have_ranks_of_their_own():
    ranks = [EVENTS[kind].landmark for kind in LANDMARKS]
    assert ranks == [*range(1, len(ranks) + 1)]


def test_facts_have_the_bounds_that_a_refusal_tells_and_keys_of_their_own():
    """The end of a fact's place names its field on every page."""
    for path, row in FACTS.items():
        assert row.low is None or row.above is None, path
        assert (row.high is None) == (row.low is None and row.above is None), path
    keys = [path.rpartition(".")[2] for path in FACTS]
    assert len({*keys}) == len(keys)
    assert {path.split(".")[0] for path in FACTS} == {"vehicle", "conditions"}


@pytest.mark.parametrize(("event", "words"), WORDS)
def test_an_event_in_words(event, words):
    assert event_words(event) == words


def test_a_display_that_shows_watt_hours_shows_whole_ones():
    assert usual_resolution("mean_consumption", "Wh/km") == 1.0
    assert usual_resolution("mean_consumption", "kWh/100km") == 0.1
