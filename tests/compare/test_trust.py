from __future__ import annotations

import pytest
from invented_drives import a_drive, a_warning

from ebbline.compare.trust import trust_in_warnings
from ebbline.records.result import Bounds, Quantity


def test_a_car_counts_once_with_its_least() -> None:
    drives = [
        a_drive("one", car="A", warnings=(a_warning("stop_soon", 4000),)),
        a_drive("two", car="A", warnings=(a_warning("stop_soon", 3000),)),
        a_drive("three", car="B", warnings=(a_warning("stop_soon", 5000),)),
    ]
    (found,) = trust_in_warnings(drives)
    assert (found.warning_class, found.n) == ("stop_soon", 2)
    assert found.least_left_m.value == 3000
    assert found.median_left_m == Bounds(4000.0, None, None)
    assert found.least_left_s.value == pytest.approx(150.0)
    assert found.bound.left_m is None
    assert found.bound.reason == "with 2 cars nothing can be said of 95 % of cars; 45 would do"
    assert found.least_vehicle == "two"


def test_the_median_of_nine_lies_between_the_second_and_the_eighth() -> None:
    drives = [
        a_drive(f"{k}", warnings=(a_warning("charge_now", 1000.0 * k),)) for k in range(1, 10)
    ]
    (found,) = trust_in_warnings(drives)
    assert isinstance(found.median_left_m, Quantity)
    assert found.median_left_m.value == 5000.0
    assert found.median_left_m.low == pytest.approx(2000 * (1 - 0.0196), abs=1)
    assert found.median_left_m.high == pytest.approx(8000 * (1 + 0.0196), abs=1)


def test_classes_stand_apart_as_drivers_meet_them() -> None:
    drives = [
        a_drive("one", warnings=(a_warning("charge_soon", 30_000), a_warning("stop_now", 500))),
        a_drive("two", warnings=(a_warning("charge_soon", 20_000),)),
    ]
    assert [(entry.warning_class, entry.n) for entry in trust_in_warnings(drives)] == [
        ("charge_soon", 2),
        ("stop_now", 1),
    ]


def test_forty_five_cars_bear_the_bound() -> None:
    drives = [a_drive(f"{k}", warnings=(a_warning("other", 1000.0 + k),)) for k in range(45)]
    (found,) = trust_in_warnings(drives)
    assert found.bound.left_m == 1000.0
    assert found.bound.method == "order statistics"
    assert found.bound.reason is None
