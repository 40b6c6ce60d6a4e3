"""A correction says what matters first, in its reader's units, and counts the rest."""

from __future__ import annotations

from datetime import UTC, datetime

from ebbline.records.result import Quantity
from ebbline.report.erratum import MOST_TOLD, erratum
from ebbline.report.figures import Consumption, Units
from ebbline.report.told import Account, Told
from ebbline.sessions.results.telling import changes, reworded

DAY = datetime(2026, 3, 2, tzinfo=UTC)
KM = Units("km")


def account(moved: float, cars: int = 20) -> Account:
    """The answer and each car's reserve; the later a car, the farther its figure moves."""
    answer = Told("fixed", "the reserve", "energy", Quantity(1 + moved, 0.9 + moved, 1.1 + moved))
    figures = [
        Told(f"{car}", "energy past zero", "energy",
             Quantity(1 + car * moved, 0.9 + car * moved, 1.1 + car * moved), f"Car {car}")
        for car in range(1, cars + 1)
    ]  # fmt: skip
    sayings = {f"session {car}": f"car {car} counts {moved:g}" for car in range(cars)}
    return Account((*figures, answer), sayings, "figures")


def text(then: Account, now: Account, units: Units = KM) -> str:
    return erratum("Winter", DAY, (then, now), changes(then, now), reworded(then, now), [], units)


def test_of_many_changes_the_answer_and_the_largest_are_told_and_the_rest_is_counted() -> None:
    said = text(account(0), account(0.1))
    assert "The reserve is 1.1\u00a0kWh" in said
    told = [f"Car {car}" for car in range(1, 21) if f"Car {car}:" in said]
    assert told == [f"Car {car}" for car in range(20 - MOST_TOLD + 2, 21)]
    assert said.index("Car 20:") < said.index("Car 19:")
    assert said.count("where we had written") == MOST_TOLD
    rest = 21 - MOST_TOLD + 20 - MOST_TOLD
    assert f"{rest} more changed; all 41 are in the list that goes with this correction." in said
    assert len(said) < 2000


def test_few_changes_are_all_told() -> None:
    said = text(account(0, cars=2), account(0.1, cars=2))
    assert "more changed" not in said
    assert "Car 1: energy past zero is 1.1" in said


def test_so_much_more_of_something_is_said_in_the_readers_units() -> None:
    def influence(unit: str, per: float, value: float) -> Account:
        told = Told(unit, "change of the reserve with", "energy",
                    Quantity(value, value - 0.1, value + 0.1), "What", (per, unit))  # fmt: skip
        return Account((told,), {}, "figures")

    inverse: Consumption = "mi/kWh"
    for unit, per, units, words in (
        ("degC", 10, KM, "10\u00a0\u00b0C more"),
        ("degC", 10, Units("mi", None, "\u00b0F"), "18\u00a0\u00b0F more"),
        ("km", 10_000, KM, "10\u202f000\u00a0km more"),
        ("km", 10_000, Units("mi"), "6214\u00a0mi more"),
        ("Wh/km", 10, Units("mi"), "16\u00a0Wh/mi more"),
        ("Wh/km", 10, Units("mi", inverse), "10\u00a0Wh/km more"),
    ):
        said = text(influence(unit, per, 0.5), influence(unit, per, 0.9), units)
        assert f"What: change of the reserve with {words} is 0.9" in said
