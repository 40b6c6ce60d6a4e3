from __future__ import annotations

import math

import pytest
from invented_drives import a_drive, an_early_one, known

from ebbline.compare.cars import Counted, by_car, cars_of, reserve_before_zero, run_variance
from ebbline.compare.repeats import repeats_of
from ebbline.records.result import Bounds


def counted(drive, reserve_kwh, reserve_m=None) -> Counted:
    return Counted(drive, reserve_m, reserve_kwh)


def test_a_later_drive_is_set_against_the_cars_first() -> None:
    first = a_drive("b", car="A", started_ms=2, facts={"vehicle.odometer_km": 3000.0})
    later = a_drive(
        "a", car="A", started_ms=5,
        facts={"vehicle.odometer_km": 13_000.0, "vehicle.software": "2.1"},
    )  # fmt: skip
    (found,) = repeats_of([counted(later, known(0.8)), counted(first, known(1.0))])
    assert found.session_ids == ("b", "a")
    assert found.difference_kwh.value == pytest.approx(-0.2)
    half = 1.96 * math.hypot(0.02, 0.02)
    assert found.difference_kwh.high == pytest.approx(-0.2 + half, abs=1e-4)
    assert found.agrees is False
    assert found.software == (None, "2.1")
    assert found.per_1000_km_kwh.value == pytest.approx(-0.02)


def test_a_difference_within_the_doubt_agrees() -> None:
    drives = [a_drive(name, car="A") for name in ("one", "two")]
    (found,) = repeats_of([counted(drives[0], known(1.0)), counted(drives[1], known(1.05))])
    assert found.agrees is True
    assert found.per_1000_km_kwh is None


def test_drives_alike_in_energy_alone_are_apart() -> None:
    drives = [a_drive(name, car="A") for name in ("one", "two")]
    (found,) = repeats_of([
        counted(drives[0], known(1.0), known(6000.0, 10)),
        counted(drives[1], known(1.0), known(6060.0, 10)),
    ])  # fmt: skip
    assert (found.agrees, found.apart) == (False, ("distance",))


def test_an_early_shut_down_disagrees_with_a_reserve_it_excludes() -> None:
    drove, early = a_drive("one", car="A"), an_early_one("two", car="A")
    (found,) = repeats_of([counted(drove, known(1.0)), counted(early, reserve_before_zero(early))])
    assert found.difference_kwh is None
    assert found.agrees is False
    (open_,) = repeats_of([counted(drove, known(0.01)), counted(early, Bounds(None, None, 0.0))])
    assert open_.agrees is None


def test_an_early_shut_down_is_bounded_by_what_the_display_still_showed() -> None:
    """At 2 % of 60 kWh ± 0.2: the display stands for more than 1 % and less than 3 %."""
    bounds = reserve_before_zero(an_early_one("one"))
    assert bounds.high == pytest.approx(-0.01 * (60 - 0.196), abs=1e-4)
    assert bounds.low == pytest.approx(-0.03 * (60 + 0.196), abs=1e-4)
    unseen = reserve_before_zero(an_early_one("one", last_soc_pct=None))
    assert unseen == Bounds(None, None, 0.0)


def test_sessions_of_one_car_become_one_figure() -> None:
    sessions = [
        counted(a_drive("one", car="A"), known(1.0, 0.1)),
        counted(a_drive("two", car="A"), known(1.1, 0.1)),
        counted(a_drive("three", car="B"), known(2.0, 0.1)),
    ]
    cars = cars_of(sessions)
    assert cars.n == 2
    assert cars.observed.value == pytest.approx([1.05, 2.0])
    assert cars.observed.var == pytest.approx([0.005, 0.01], rel=1e-5)


def test_runs_further_apart_than_their_doubt_vary_from_run_to_run() -> None:
    """Two of 1.0 and 2.0: Σ(y - ȳ)²/(v + w) = 0.5/(v + w) is 1 at w = 0.5 - v."""
    sessions = [
        counted(a_drive("one", car="A"), known(1.0, 0.1)),
        counted(a_drive("two", car="A"), known(2.0, 0.1)),
    ]
    assert run_variance(by_car(sessions)) == pytest.approx(0.49, rel=1e-4)
    assert cars_of(sessions).observed.var == pytest.approx([0.25], rel=1e-4)
