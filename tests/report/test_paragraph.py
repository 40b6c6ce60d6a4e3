"""The paragraph to paste: figures as they are said, doubt in words, and what goes with it."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.subjects import EARLY, FULL, LAPS, ROUGH, document_of, sample, subject_of

from ebbline.records.result import Quantity
from ebbline.report.figures import Choice, Units
from ebbline.report.paragraph import paragraph_text, to_paste
from ebbline.report.saying import about, said

NO_BREAK = "\u00a0"


@pytest.mark.parametrize(
    ("quantity", "miles", "words"),
    [
        (Quantity(7901.2, 7881.6, 7920.7), False, "7.90 km, give or take 0.03 km"),
        (Quantity(7901.2, 7881.6, 7920.7), True, "4.91 miles, give or take 0.02 miles"),
        (Quantity(9930.0, 9850.0, 10_010.0), False, "9.93 km, give or take 0.08 km"),
        (Quantity(5000.0, 57.0, 9980.0), False, "between 0.057 and 10 km"),
        (Quantity(900.0, -100.0, 1900.0), False, "at most 1.9 km"),
        (Quantity(1609.344, 1609.344, 1609.344), True, "1.00 mile"),
    ],
)
def test_a_distance_is_said_with_its_doubt(quantity: Quantity, miles: bool, words: str):
    units = Units("mi" if miles else "km")
    assert said(units, "distance", quantity).replace(NO_BREAK, " ") == words


@given(
    st.floats(1, 1e6), st.floats(1e-4, 0.49), st.floats(1e-4, 0.49), st.sampled_from(["km", "mi"])
)
def test_what_is_said_holds_the_whole_interval(
    value: float, below: float, above: float, choice: Choice
):
    units = Units(choice)
    quantity = Quantity(value, value * (1 - below), value * (1 + above))
    numbers = re.findall(r"[\d.\u202f]+", said(units, "distance", quantity))
    shown, doubt = (float(text.replace("\u202f", "")) for text in numbers)
    low, high = (end * units.scale("distance") for end in (quantity.low, quantity.high))
    assert shown - doubt <= low + 1e-6 * value
    assert high - 1e-6 * value <= shown + doubt
    assert doubt <= 2.5 * max(high - shown, shown - low) + 1e-9, "and is not much wider"


def test_about_never_says_more_than_is_known():
    assert about(Units(), "distance", Quantity(23_528, 23_500, 23_560)) == f"about 24{NO_BREAK}km"
    rough = Quantity(23_528, 18_000, 29_000)
    assert about(Units(), "distance", rough) == f"about 24{NO_BREAK}km"
    rougher = Quantity(23_528, 13_000, 34_000)
    assert about(Units(), "distance", rougher) == f"about 20{NO_BREAK}km"
    wild = Quantity(23_528, 1_000, 50_000)
    assert about(Units(), "distance", wild) == f"between 1.0 and 50{NO_BREAK}km"
    assert about(Units(), "duration", Quantity(60, 50, 70)) == f"about 60{NO_BREAK}seconds"


@pytest.mark.parametrize("choice", ["km", "mi"])
def test_the_paragraph_answers_the_audiences_questions_in_the_readers_units(choice: Choice):
    subject = sample(FULL, choice)
    told = to_paste(subject).paragraph.replace(NO_BREAK, " ")
    used = said(subject.units, "energy", subject.result.reserve.energy_kwh).replace(NO_BREAK, " ")
    far = {"km": "7.90 km, give or take 0.03 km", "mi": "4.91 miles, give or take 0.02 miles"}
    for part in (
        f"after the display showed 0 %, the car drove another {far[choice]}",
        f"used another {used}, until it could no longer drive.",
        "it warned 5 times: first with \u201cbattery low, charge soon\u201d when about",
        "With the throttle floored it still reached about",
        "The battery disconnected itself about 2.9 minutes after",
        "it charged slowly for 4.3 minutes, give or take 0.6 minutes",
        "agrees with what had been used",
    ):
        assert part in told
    other = r"\b(km|km/h)\b" if choice == "mi" else r"\b(miles?|mph)\b"
    assert not re.search(other, told)
    assert "interval" not in told
    assert "%)" not in told


@pytest.mark.parametrize("name", [FULL, ROUGH, EARLY, LAPS])
def test_what_must_be_said_goes_with_it(name: str):
    subject = sample(name)
    paste = to_paste(subject)
    assert paste.said_with[0].startswith("It was driven on a closed course.")
    assert any("nobody should count on a reserve past zero" in each for each in paste.said_with)
    assert any("warranty" in each for each in paste.said_with)
    for finding in subject.result.findings:
        assert (subject.told(finding) in paste.said_with) == (finding.severity != "note")
    text = paragraph_text(subject).decode()
    assert text.startswith(paste.paragraph)
    assert all(f"\n- {each}\n" in text for each in paste.said_with)
    assert subject.input_sha256[:16] in text


def test_a_course_that_nobody_called_closed_is_not_called_so():
    document = document_of(FULL)
    del document["course"]["closed"]
    first = to_paste(subject_of(document)).said_with[0]
    assert first.startswith("The plan doesn\u2019t state that the course was closed")


def test_a_car_that_shut_off_early_is_told_without_a_reserve():
    told = to_paste(sample(EARLY)).paragraph.replace(NO_BREAK, " ")
    assert told.startswith("The car shut itself off before its display reached zero")
    assert "it warned twice: first with \u201cbattery low\u201d when about 8.6 km were left" in told
    assert "past zero" not in told
    assert to_paste(sample(LAPS)).paragraph.startswith("A check of the course")
