"""The pages' words and orders against the table and the cases that the server is held to."""

import json
from pathlib import Path

import javascript

from ebbline.vocabulary import EVENTS, PHASES, READINGS, reading_name, unit_name, usual_resolution

WORDS = json.loads((Path(__file__).parent / "words.json").read_text("utf-8"))


def test_the_pages_say_the_same_of_an_event() -> None:
    said = javascript.evaluate(
        "shared/vocabulary.js",
        "({ eventWords }, events) => events.map((event) => eventWords(event))",
        [event for event, _ in WORDS],
    )
    assert said == [words for _, words in WORDS]


def test_the_pages_name_quantities_units_and_steps_the_same() -> None:
    pairs = [(name, unit) for name, known in READINGS.items() for unit in known.units]
    said = javascript.evaluate(
        "shared/vocabulary.js",
        """({ readingName, unitName, usualResolution }, pairs) => pairs.map(([name, unit]) =>
             [readingName(name), unitName(unit), usualResolution(name, unit)])""",
        pairs,
    )
    assert said == [
        [reading_name(name), unit_name(unit), usual_resolution(name, unit)] for name, unit in pairs
    ]


def test_a_figure_with_more_decimals_than_its_display_says_its_step() -> None:
    typed = [("3.2", 1), ("3.0", 1), ("3", 1), ("6.5", 0.5), ("6.25", 0.1), ("12", 0.1)]
    said = javascript.evaluate(
        "shared/vocabulary.js",
        "({ shownResolution }, typed) => typed.map((one) => shownResolution(...one))",
        typed,
    )
    assert said == [0.1, 0.1, 1, 0.5, 0.01, 0.1]


def test_the_phone_has_each_phases_keys_and_tiles_in_the_tables_order() -> None:
    keys, tiles = javascript.evaluate(
        "capture/drive/taps.js",
        "({ keysOf, padOrder }, phases) => [phases.map(keysOf), phases.map(padOrder)]",
        [*PHASES],
    )
    for phase, shown, offered in zip(PHASES, keys, tiles, strict=True):
        places = {
            known.key.switch or kind: known.key.places[phase]
            for kind, known in EVENTS.items()
            if phase in known.key.places
        }
        assert shown == sorted(places, key=lambda key: places[key])
        first = {name: known.places[phase] for name, known in READINGS.items()
                 if phase in known.places}  # fmt: skip
        rest = [name for name, known in READINGS.items() if known.on_pad and name not in first]
        assert offered == [*sorted(first, key=lambda name: first[name]), *rest]
