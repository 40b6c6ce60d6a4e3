"""The balance: what was driven below 0 % against what was recharged below it."""

from dataclasses import replace
from functools import cache

import generate

from ebbline.exchange.session_file import load_document, to_session
from ebbline.measure.analysis import analyze


@cache
def full_run():
    return to_session(load_document((generate.HERE / "full-run.ebbline.json").read_bytes()))


@cache
def balance(zero_basis=None, without=(), efficiency=None):
    """Of the sample whose balance closes, with changes; and its findings' codes."""
    session = full_run()
    protocol = replace(
        session.protocol,
        zero_basis=zero_basis,
        charging_efficiency=efficiency or session.protocol.charging_efficiency,
    )
    events = tuple(event for event in session.events if event.kind not in without)
    result = analyze(replace(session, protocol=protocol, events=events)).result
    return result.balance, [finding.code for finding in result.findings]


def test_driven_and_recharged_agree():
    found, codes = balance()
    assert found.agrees
    assert "balance_open" not in codes


def test_another_zero_changes_nothing_as_both_count_from_0_per_cent():
    assert balance("zero_range") == (balance()[0], balance("zero_range")[1])
    assert "balance_open" not in balance("zero_range")[1]


def test_without_0_per_cent_nothing_can_be_compared():
    found, codes = balance("zero_range", without=("zero_soc",))
    assert found.driven_below_zero_kwh is None
    assert found.agrees is None
    assert "balance_open" not in codes


def test_a_wrong_charging_efficiency_is_a_doubt():
    found, codes = balance(efficiency=0.7)
    assert found.agrees is False
    assert "balance_open" in codes


def test_what_ran_on_until_the_contactors_opened_counts_too():
    """An efficiency so good that the drive alone can't have taken what came back."""
    assert balance(efficiency=0.95)[0].agrees
    unseen, codes = balance(efficiency=0.95, without=("contactors_open",))
    assert unseen.agrees is False
    assert "balance_open" in codes
