"""What many drives say together, where the answer is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from invented_drives import a_drive, an_early_one, known

from ebbline.compare.cars import Counted, cars_of
from ebbline.compare.comparison import compare
from ebbline.compare.influence import influences_on
from ebbline.compare.reserve_model import Fits, leave_one_out
from ebbline.compare.statement import statement_of
from ebbline.records.comparison import Comparison, Drive, LeftOut
from ebbline.records.result import Bounds, Quantity

PACKS = np.linspace(40.0, 100.0, 12)
OFF = np.tile([0.1, -0.1, 0.05, -0.05], 3)  # what single cars stray by, kWh


def cars(reserve_of: Callable[[float], float]) -> list[Drive]:
    return [
        a_drive(f"car {k}", float(pack), reserve_of(float(pack)) + float(OFF[k]))
        for k, pack in enumerate(PACKS)
    ]


def model(comparison: Comparison, name: str):
    return next(one for one in comparison.reserve_model.models if one.name == name)


def codes(comparison: Comparison) -> set[str]:
    return {finding.code for finding in comparison.findings}


@pytest.mark.parametrize(
    ("truth", "reserve_of"),
    [
        ("fixed", lambda pack: 2.0),
        ("proportional", lambda pack: 0.03 * pack),
        ("mixed", lambda pack: 1.0 + 0.015 * pack),
    ],
)
def test_a_clear_campaign_has_its_answer(truth: str, reserve_of) -> None:
    found = compare(cars(reserve_of))
    assert found.reserve_model.verdict == truth
    weights = [one.weight for one in found.reserve_model.models]
    assert sum(weights) == pytest.approx(1.0)
    own = model(found, truth)
    assert own.weight == max(weights)
    fixed, share = reserve_of(0.0), 100 * (reserve_of(100.0) - reserve_of(0.0)) / 100
    if own.fixed_kwh:
        assert own.fixed_kwh.low < fixed < own.fixed_kwh.high
    if own.share_pct:
        assert own.share_pct.low < share < own.share_pct.high
    assert found.reserve_model.statement.startswith("In these 12 cars")
    assert "No one car decides this." in found.reserve_model.statement
    assert codes(found) == set()


def test_four_cars_decide_nothing_and_say_so() -> None:
    found = compare(cars(lambda pack: 2.0)[::3])
    assert found.reserve_model.verdict == "undecided"
    assert "few_cars" in codes(found)
    assert found.reserve_model.statement.startswith("4 cars can't say whether")
    assert all(one.weight is None for one in found.reserve_model.models)


def test_packs_alike_decide_nothing_and_say_so() -> None:
    rng = np.random.default_rng(4)
    drives = [
        a_drive(f"{k}", 60.0 + 0.5 * k, float(2 + 0.1 * rng.standard_normal())) for k in range(12)
    ]
    found = compare(drives)
    assert found.reserve_model.verdict == "undecided"
    assert "packs_hardly_differ" in codes(found)
    assert "don't tell whether" in found.reserve_model.statement


def test_a_car_that_shut_down_before_zero_counts_against_the_reserve() -> None:
    drives = cars(lambda pack: 2.0)
    without = compare(drives)
    with_it = compare([*drives, an_early_one("early")])
    assert model(with_it, "fixed").fixed_kwh.value < model(without, "fixed").fixed_kwh.value - 0.1
    assert with_it.reserve_model.cars == 13
    row = with_it.sessions[-1]
    assert row.shut_down_before_zero
    assert isinstance(row.reserve_kwh, Bounds)
    assert row.reserve_kwh.high < 0
    assert row.reserve_m == Bounds(None, None, 0.0)
    assert "One car shut down before zero and counts as that." in with_it.reserve_model.statement
    assert "shut_down_before_zero" in codes(with_it)


def test_nothing_but_early_shut_downs_still_says_that_the_reserve_is_below_nothing() -> None:
    found = compare([an_early_one(f"{k}", 50.0 + 8 * k) for k in range(6)])
    assert model(found, "fixed").fixed_kwh.value < 0
    assert found.reserve_model.verdict == "undecided"


def test_what_is_left_out_says_why() -> None:
    drives = [
        *cars(lambda pack: 2.0)[:3],
        a_drive("contactors", reserve_end="contactors_open"),
        a_drive("range", zero_basis="zero_range", reserves={"zero_range": (None, known(1.0))}),
        a_drive("no end", reserve_end=None),
        a_drive("unknown", reserves={"zero_soc": (None, None)}),
        a_drive("car 0"),
    ]
    why = {left.session_id: left.why for left in compare(drives).left_out}
    assert set(why) == {"contactors", "range", "no end", "unknown", "car 0"}
    assert "ends at \u201cContactors open\u201d" in why["contactors"]
    assert "it counts from" in why["range"]
    assert "no longer drive" in why["no end"]
    assert why["unknown"] == "neither distance nor energy of its reserve is known"
    assert why["car 0"] == "it is there twice"


def test_leaving_a_session_out_changes_no_tag() -> None:
    drives = [*cars(lambda pack: 2.0), a_drive("again", car="car 1", vehicle="car 1", started_ms=9)]
    tags = {row.session_id: row.tag for row in compare(drives).sessions}
    assert [tags[name] for name in ("car 0", "car 1", "again", "car 2")] == ["1", "2", "2b", "3"]
    found = compare(drives, left_out_before=[LeftOut("car 0", "it was wet")])
    assert found.left_out == (LeftOut("car 0", "it was wet", "1"),)
    assert {row.session_id: row.tag for row in found.sessions} == {
        name: tag for name, tag in tags.items() if name != "car 0"
    }


def test_a_drive_that_noted_both_zeros_is_counted_from_the_one_asked_for() -> None:
    both = {"zero_soc": (known(6000.0, 20), known(1.0)), "zero_range": (None, known(1.3))}
    found = compare([a_drive("one", reserves=both)], zero_basis="zero_range")
    assert found.zero_basis == "zero_range"
    assert found.sessions[0].reserve_kwh.value == pytest.approx(1.3)


def test_a_car_driven_again_is_one_car() -> None:
    drives = cars(lambda pack: 2.0)
    again = a_drive("again", 40.0, 1.2, car="car 0", vehicle="car 0", started_ms=9)
    found = compare([*drives, again])
    assert (found.reserve_model.cars, found.reserve_model.sessions) == (12, 13)
    listed = [row.session_id for row in found.sessions]
    assert listed[:3] == ["car 0", "again", "car 1"]  # by car, as people count
    assert listed[-2:] == ["car 10", "car 11"]
    assert found.sessions[1].repeat_of == "car 0"
    assert found.repeats[0].agrees is False
    assert "repeats_disagree" in codes(found)
    assert "12 cars (13 sessions)" in found.reserve_model.statement


def test_sessions_without_a_pack_are_seen_by_everything_but_the_models() -> None:
    found = compare([*cars(lambda pack: 2.0), a_drive("no pack", usable_kwh=None)])
    assert found.reserve_model.cars == 12
    assert len(found.sessions) == 13
    assert "not_in_the_models" in codes(found)


def test_packs_that_we_measured_are_named() -> None:
    """And the share is unsure by our measure; of a stated figure it is what the session says."""
    first, *others = cars(lambda pack: 2.0)
    unsure = replace(first, usable_kwh=Quantity(40.0, 38.0, 42.0))
    stated = compare([unsure, *others]).sessions[0]
    found = compare([replace(unsure, pack_measured=True), *others])
    widths = [
        one.share_of_usable_pct.high - one.share_of_usable_pct.low
        for one in (stated, found.sessions[0])
    ]
    assert widths[0] == pytest.approx(100 / 40 * (stated.reserve_kwh.high - stated.reserve_kwh.low))
    assert widths[1] > widths[0]
    (finding,) = [finding for finding in found.findings if finding.code == "pack_measured"]
    assert finding.message.startswith("In 1 of 12 sessions")
    assert first.session_id in finding.where


def test_no_sessions_say_nothing() -> None:
    found = compare([])
    assert found.reserve_model.verdict == "undecided"
    assert "nothing can be said" in found.reserve_model.statement
    assert found.sessions == ()


def test_what_is_said_hangs_on_a_car_where_it_would_not_be_said_without() -> None:
    """Small cars alike and one large one: without it there is no slope to see."""
    drives = [a_drive(f"{k}", 40.0 + k, 1.0 + float(OFF[k]) / 4) for k in range(7)]
    drives.append(a_drive("large", 110.0, 2.7))
    sessions = [Counted(drive, *drive.reserves["zero_soc"]) for drive in drives]
    fits = Fits(cars_of(sessions))
    without = leave_one_out(fits.cars)
    assert fits.verdict == "proportional"
    assert {one.vehicle: one.verdict for one in without}["large"] == "undecided"
    said = statement_of(fits, [fits.model(n) for n in ("fixed", "proportional", "mixed")],
                        fits.verdict, without)  # fmt: skip
    assert "without large it would not be said" in said
    open_one = [replace(one, verdict="undecided") for one in without[1:]]
    turning = replace(without[0], verdict="mixed", vehicle="odd one")
    said = statement_of(fits, [fits.model(n) for n in ("fixed", "proportional", "mixed")],
                        "undecided", [turning, *open_one])  # fmt: skip
    assert "Without odd one the others would say: a fixed part of" in said


def test_influences_are_told_beside_the_pack_and_not_taken_off() -> None:
    """0.2 kWh less per 10 °C and 0.5 kWh more with one chemistry, built in."""
    rng = np.random.default_rng(8)
    sessions = []
    for k, pack in enumerate(np.linspace(40, 100, 24)):
        celsius, other = float(rng.uniform(-5, 30)), k % 3 == 0
        reserve = 2 - 0.02 * celsius + 0.5 * other + 0.03 * float(rng.standard_normal())
        facts = {"conditions.ambient_c": celsius,
                 "vehicle.pack.chemistry": "LFP" if other else "NMC"}  # fmt: skip
        drive = a_drive(f"{k}", float(pack), reserve, facts=facts)
        sessions.append(Counted(drive, *drive.reserves["zero_soc"]))
    found = {one.of: one for one in influences_on(cars_of(sessions))}
    temperature = found["conditions.ambient_c"]
    assert temperature.change_kwh.low < -0.2 < temperature.change_kwh.high
    chemistry = found["vehicle.pack.chemistry"]
    assert (chemistry.level, chemistry.against) == ("LFP", "NMC")
    assert chemistry.change_kwh.low < 0.5 < chemistry.change_kwh.high
    assert chemistry.clear
    assert found["vehicle.odometer_km"].change_kwh is None
    assert "there are 0" in found["vehicle.odometer_km"].reason
