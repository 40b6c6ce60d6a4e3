"""What a comparison takes of a session's document and of its result document."""

from __future__ import annotations

from typing import Any

import pytest

from ebbline.exchange.drives import drive_of
from ebbline.records.result import Quantity

END_MS = 1_772_460_600_000


def q(value: float, half: float = 1.0) -> dict[str, float]:
    return {"value": value, "low": value - half, "high": value + half}


def an_event(name: str, kind: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "device": "phone-1", "t_ms": 0, "kind": kind, **more}


def a_row(name: str, kind: str, before_end_s: float, **more: Any) -> dict[str, Any]:
    """A row of the timeline, so long before the end."""
    at = END_MS - 1000 * before_end_s
    return {
        "event_id": name,
        "kind": kind,
        "at_ms": q(at, 500.0),
        "left_m": q(max(20 * before_end_s, 0.0)),
        "left_kwh": None,
        "class": None,
        **more,
    }


@pytest.fixture
def document() -> dict[str, Any]:
    return {
        "session": {"id": "s", "title": "Morning", "started_at": "2026-03-02T15:04:05+01:00"},
        "vehicle": {"label": "Car  One", "pack": {"usable_kwh": 58.0, "chemistry": "LFP"}},
        "conditions": {"ambient_c": 9.0, "notes": None},
        "protocol": {"speed_band_kmh": [50, 90]},
        "devices": [{"id": "phone-1"}],
        "events": [
            an_event("two", "soc_step", value=2.0),
            an_event("one", "soc_step", value=1.0),
            an_event("back", "note", corrects="one", withdraws=True),
            an_event("w1", "warning", text="stop soon, please"),
            an_event("w2", "warning", text="stop soon, please"),
            an_event("w3", "warning", text="can't restart"),
            an_event("w4", "warning", text="battery low"),
            an_event("off", "propulsion_off"),
        ],
        "readings": [],
    }


@pytest.fixture
def result() -> dict[str, Any]:
    reserve = {
        "distance_m": q(6000.0),
        "energy_kwh": q(1.1, 0.1),
        "duration_s": q(300.0),
        "share_of_usable_pct": None,
        "shut_down_before_zero": False,
        "ends_at": "propulsion_off",
        "end_event_id": "off",
        "from_zero_range": {"distance_m": None, "energy_kwh": q(1.4, 0.1)},
        "from_zero_soc": None,
    }
    return {
        "zero": {"basis": "zero_soc"},
        "reserve": reserve,
        "consumption": {"past_zero_wh_per_km": q(180.0)},
        "recharge": None,
        "timeline": [
            a_row("two", "soc_step", 400),
            a_row("w4", "warning", 390),
            a_row("w1", "warning", 200, **{"class": "stop_soon"}),
            a_row("w2", "warning", 100, **{"class": "stop_soon"}),
            a_row("off", "propulsion_off", 0),
            a_row("w3", "warning", -30, **{"class": "unable_to_restart"}),
        ],
    }


def test_the_first_warning_of_each_class_until_the_end_counts(document, result) -> None:
    found = {warning.warning_class: warning for warning in drive_of(document, result).warnings}
    assert set(found) == {"other", "stop_soon"}
    assert found["stop_soon"].left_m.value == 4000.0
    assert found["stop_soon"].left_s == Quantity(200.0, 199.5, 200.5)
    assert found["stop_soon"].left_kwh is None
    assert found["other"].words == "battery low"


def test_reserves_are_held_by_the_zero_they_count_from(document, result) -> None:
    drive = drive_of(document, result)
    assert drive.reserves["zero_soc"][1].value == 1.1
    assert drive.reserves["zero_range"] == (None, Quantity(1.4, pytest.approx(1.3), 1.5))


def test_figures_and_facts_go_by_their_place(document, result) -> None:
    drive = drive_of(document, result)
    assert drive.figures["reserve.duration_s"].value == 300.0
    assert "recharge.trickle_s" not in drive.figures
    assert drive.facts == {
        "vehicle.label": "Car  One",
        "vehicle.pack.usable_kwh": 58.0,
        "vehicle.pack.chemistry": "LFP",
        "conditions.ambient_c": 9.0,
        "protocol.speed_band_kmh.0": 50,
        "protocol.speed_band_kmh.1": 90,
    }


def test_the_last_charge_shown_is_what_stands(document, result) -> None:
    """The tap of 1 % was taken back."""
    assert drive_of(document, result).last_soc_pct == 2.0


@pytest.mark.parametrize(("stated", "half"), [(58.0, 0.5), (58.3, 0.05), (58.25, 0.005)])
def test_a_stated_pack_is_known_to_its_last_digit(document, result, stated, half) -> None:
    document["vehicle"]["pack"]["usable_kwh"] = stated
    usable = drive_of(document, result).usable_kwh
    assert usable.value == stated
    assert usable.high - usable.value == pytest.approx(0.95 * half, rel=1e-6)


def test_our_own_measure_of_a_pack_goes_before_the_makers(document, result) -> None:
    assert drive_of(document, result).pack_measured is False
    document["vehicle"]["pack"] |= {"measured_kwh": 56.4, "measured_sd_kwh": 0.5}
    drive = drive_of(document, result)
    assert drive.pack_measured
    assert drive.usable_kwh == Quantity(
        56.4, pytest.approx(56.4 - 1.96 * 0.5, abs=1e-4), pytest.approx(56.4 + 1.96 * 0.5, abs=1e-4)
    )
    del document["vehicle"]["pack"]["measured_sd_kwh"]
    usable = drive_of(document, result).usable_kwh
    assert usable.high - usable.value == pytest.approx(0.95 * 0.05, rel=1e-6)
    document["vehicle"]["pack"] = {}
    assert drive_of(document, result).usable_kwh is None


def test_cars_go_by_their_label_as_people_type_it_or_by_an_id(document, result) -> None:
    assert drive_of(document, result).car == "car one"
    assert drive_of(document, result).vehicle == "Car  One"
    document["vehicle"]["id"] = "f00"
    assert drive_of(document, result).car == "f00"
    document["vehicle"] = {}
    assert drive_of(document, result).car == "s"
    assert drive_of(document, result).vehicle == "Morning"


def test_a_car_that_shut_down_before_zero_has_no_reserve_by_any_zero(document, result) -> None:
    result["reserve"]["shut_down_before_zero"] = True
    result["zero"]["basis"] = None
    assert drive_of(document, result).reserves == {}
