"""Facts of car and day: what is taken, what is refused, and what a checklist's tick says."""

from typing import Any

import pytest

from ebbline.errors import InputError
from ebbline.exchange.facts import facts_of
from ebbline.exchange.session_file import check_setup
from ebbline.vocabulary import FACTS

SESSION = {"session": {"id": "00000000-0000-4000-8000-000000000001"}}
EVERY: dict[str, Any] = {
    "vehicle": {
        "label": "Grey test car",
        "software": "4.2",
        "odometer_km": 3120,
        "mass_kg": 1810,
        "lender": "a private owner",
        "pack": {
            "usable_kwh": 58.0,
            "measured_kwh": 56.4,
            "measured_sd_kwh": 0.5,
            "series_cells": 96,
            "chemistry": "NMC",
        },
        "road_load": {
            "a_n": 110.0,
            "b_n_per_mps": 1.2,
            "c_n_per_mps2": 0.42,
            "driveline_efficiency": 0.9,
        },
    },
    "conditions": {
        "full_charge_before": True,
        "battery_warmed": False,
        "pack_c": 18.0,
        "tyre_kpa": 290,
        "load_kg": 160,
        "drive_mode": "usual",
        "disclosure": "lent free of charge",
        "ambient_c": 9.0,
        "climate": "off",
        "road_c": 4.0,
        "wind_mps": 3.0,
        "wind_from_deg": 270,
        "surface": "dry",
        "charger": "50 kW, direct current",
    },
}


def tick(name: str, item: str, ticked: bool, device: str = "p", **more: Any) -> dict[str, Any]:
    return {"id": name, "device": device, "t_ms": 1, "kind": "note", "log": "checklist",
            "checklist": {"item": item, "ticked": ticked}, **more}  # fmt: skip


def with_fact(path: str, value: Any) -> dict[str, Any]:
    *places, key = path.split(".")
    setup: dict[str, Any] = {**SESSION}
    part = setup
    for place in places:
        part = part.setdefault(place, {})
    if places[-1] == "road_load":
        part.update(EVERY["vehicle"]["road_load"])
    part[key] = value
    return setup


def test_every_fact_is_taken_and_found_in_the_tables_order():
    check_setup({**SESSION, **EVERY}, "setup")
    found = facts_of({**SESSION, **EVERY})
    assert list(found) == list(FACTS)
    assert found["vehicle.pack.measured_kwh"] == 56.4
    assert found["conditions.battery_warmed"] is False


@pytest.mark.parametrize(
    ("path", "value", "why"),
    [
        ("conditions.tyre_kpa", 2.9, "must not be below 100"),  # typed in bar
        ("conditions.tyre_kpa", 42, "must not be below 100"),  # typed in psi
        ("conditions.ambient_c", 68, "must not be above 60"),  # typed in °F
        ("conditions.wind_from_deg", 361, "must not be above 360"),
        ("conditions.load_kg", "160", "a number is needed"),
        ("conditions.battery_warmed", "yes", "true or false is needed"),
        ("vehicle.pack.usable_kwh", 0, "must be above 0"),
        ("vehicle.pack.measured_kwh", 58_000, "must not be above 1000"),  # typed in Wh
        ("vehicle.pack.series_cells", 96.5, "a whole number is needed"),
        ("vehicle.lender", 7, "text is needed"),
    ],
)
def test_what_no_car_and_no_weather_has_is_refused_with_its_place(path, value, why):
    with pytest.raises(InputError) as refused:
        check_setup(with_fact(path, value), "setup")
    assert str(refused.value).startswith(f"setup.{path}: ")
    assert why in str(refused.value)


@pytest.mark.parametrize("path", FACTS)
def test_null_says_nothing(path):
    if path.rpartition(".")[2] not in ("a_n", "b_n_per_mps", "c_n_per_mps2"):
        check_setup(with_fact(path, None), "setup")
    assert path not in facts_of(with_fact(path, None))


def test_a_tick_says_yes_where_the_setup_says_nothing():
    ticks = {"events": [tick("a", "charged_full", True), tick("b", "pack_warm", True)]}
    flag = "conditions.full_charge_before"
    assert facts_of({**SESSION, **ticks})[flag] is True
    denied = {**SESSION, **ticks, "conditions": {"full_charge_before": False}}
    assert facts_of(denied) == {flag: False, "conditions.battery_warmed": True}
