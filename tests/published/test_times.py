"""Times in the session file against the examples of RFC 3339, 5.8 (from memory; ran)."""

import pytest

from ebbline.errors import InputError
from ebbline.exchange.session_file import dump_document, load_document

EXAMPLES = [
    "1985-04-12T23:20:50.52Z",
    "1996-12-19T16:39:57-08:00",
    "1937-01-01T12:00:27.87+00:20",
]


def a_file(started_at):
    return dump_document(
        {
            "format": "ebbline-session",
            "version": 1,
            "session": {
                "id": "0b7e6f0e-7a64-4c5e-9d2e-0a53b1a4c7d1",
                "started_at": started_at,
            },
        }
    )


@pytest.mark.parametrize("text", EXAMPLES)
def test_the_rules_own_examples_are_taken_and_kept(text):
    assert load_document(a_file(text))["session"]["started_at"] == text


@pytest.mark.parametrize(
    "text",
    [
        "1985-04-12T23:20:50.52",  # no offset
        "1985-02-30T23:20:50Z",  # no such day
        "1985-04-12 23:20:50Z",  # a space for T: the rule lets readers choose
        "1985-04-12T25:20:50Z",
        "1985-04-12T23:60:50Z",
        "12 April 1985",
        "1985-04-12",
        "",
    ],
)
def test_what_is_no_such_time_is_refused_by_name(text):
    with pytest.raises(InputError) as refused:
        load_document(a_file(text))
    assert refused.value.where == "session.started_at"
