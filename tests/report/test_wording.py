import re
from pathlib import Path

from ebbline.measure.naming import EVENT_NAMES, READING_NAMES
from ebbline.records import EVENT_KINDS, READING_UNITS
from ebbline.report.wording import event_words

VOCABULARY = Path(__file__).parents[2] / "pwa" / "shared" / "vocabulary.js"


def test_phone_desk_and_report_use_the_same_words():
    text = VOCABULARY.read_text("utf-8")
    events = text[text.index("EVENT_NAMES") : text.index("EVENT_VALUE_UNITS")]
    assert dict(re.findall(r'(\w+): "([^"]+)"', events)) == EVENT_NAMES
    readings = text[text.index("READING_KINDS") :]
    assert dict(re.findall(r'(\w+): \{\s*name: "([^"]+)"', readings)) == READING_NAMES


def test_every_kind_and_quantity_has_words():
    assert set(EVENT_NAMES) == set(EVENT_KINDS)
    assert set(READING_NAMES) == set(READING_UNITS)


def test_what_was_noted_with_an_event_is_said():
    said = event_words({"kind": "speed_capped", "value": 69.0, "unit": "km/h", "text": None})
    assert said == "Top speed capped: 69 km/h shown"
    assert event_words({"kind": "warning", "text": "power reduced"}) == "“power reduced”"
    assert event_words({"kind": "comfort_cut", "text": "seat heating"}) == (
        "Comfort reduced – seat heating"
    )
    assert event_words({"kind": "made_up_kind"}) == "made up kind"
