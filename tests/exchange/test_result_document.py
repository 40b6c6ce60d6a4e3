import dataclasses
import json

import numpy as np
import pytest

from ebbline.errors import InputError, MeasureError
from ebbline.exchange import result_document
from ebbline.records import result as records
from ebbline.records.curves import Band, Curves
from ebbline.records.result import Quantity

Q = Quantity(2.0, 1.0, 3.0)
Q_JSON = {"value": 2.0, "low": 1.0, "high": 3.0}


def a_result() -> records.Result:
    return records.Result(
        session_id="00000000-0000-4000-8000-000000000001",
        distance=records.Distance(Q, 12.5, "integrated speed", (records.Gap(1, 2, Q),)),
        laps=(records.Lap(1, 1, 2, Q, Q, None),),
        lap_check=records.LapCheck(2400.0, Q, Q, True),
        trip_check=records.TripCheck(Q, False),
        zero=records.Zero("zero_soc", 1, None, Q),
        reserve=records.Reserve(Q, Q, None, Q, False, "propulsion_off"),
        timeline=(
            records.TimelineEntry("e", "warning", 1, Q, Q, None, None, Q, Q, Q, "stop_soon"),
        ),
        limits=(records.Limit(1, 2, Q, None, Q, Q, None, None, None),),
        recharge=records.Recharge(1, Q, Q, Q, Q, Q, (records.SocEnergy(5.0, Q),), Q),
        consumption=records.Consumption(Q, (records.SpeedConsumption(1, 2, Q, Q),)),
        balance=records.Balance(Q, None, None),
        findings=(records.Finding("note", "code", "message", "where"),),
    )


def test_the_document_has_every_key_of_version_1_in_order():
    """Keys as the session file's reference lists them, version 1."""
    document = result_document.to_document(a_result(), "ab" * 32)
    assert list(document) == [
        "format", "version", "session_id", "input_sha256", "engine", "distance", "laps",
        "lap_check", "trip_check", "zero", "reserve", "timeline", "limits", "recharge",
        "consumption", "balance", "findings", "power_log", "held_speed", "pack_voltage", "shown",
    ]  # fmt: skip
    assert document["format"] == "ebbline-result"
    assert document["version"] == 1
    assert document["input_sha256"] == "ab" * 32
    assert document["distance"] == {
        "total_m": Q_JSON,
        "polyline_m": 12.5,
        "method": "integrated speed",
        "gaps": [{"from_ms": 1, "to_ms": 2, "bridged_m": Q_JSON}],
    }
    assert document["recharge"]["energy_to_soc"] == [{"soc_pct": 5.0, "energy_kwh": Q_JSON}]
    assert list(document["timeline"][0]) == [
        "event_id", "kind", "t_ms", "at_ms", "distance_m", "past_zero_m",
        "energy_past_zero_kwh", "left_m", "left_kwh", "speed_mps", "class",
    ]  # fmt: skip
    assert document["timeline"][0]["class"] == "stop_soon"
    assert document["reserve"]["duration_s"] is None


def test_the_bytes_are_the_document_and_the_same_each_time():
    data = result_document.dump(a_result(), "00" * 32)
    assert json.loads(data) == result_document.to_document(a_result(), "00" * 32)
    assert data == result_document.dump(a_result(), "00" * 32)


def test_numpy_scalars_leave_as_plain_numbers():
    result = dataclasses.replace(
        a_result(),
        balance=records.Balance(
            Quantity(np.float64(2), np.float64(1), np.float64(3)), None, np.bool_(True)
        ),
    )
    balance = json.loads(result_document.dump(result, ""))["balance"]
    assert balance == {
        "driven_below_zero_kwh": Q_JSON,
        "recharged_below_zero_kwh": None,
        "agrees": True,
    }


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), np.float64("nan")])
def test_a_figure_that_is_not_a_number_is_refused_with_its_place(bad):
    result = dataclasses.replace(a_result(), balance=records.Balance(None, Quantity(bad, 0, 1), 0))
    with pytest.raises(MeasureError, match=r"result\.balance\.recharged_below_zero_kwh\.value"):
        result_document.to_document(result, "")


def some_curves(count: int, recharge_count: int, log_count: int = 0) -> Curves:
    line = np.arange(count, dtype=np.float64)
    band = Band(line, line - 1, line + 1)
    charge = np.arange(recharge_count, dtype=np.float64)
    logged = np.arange(log_count, dtype=np.float64)
    unknown = np.full(count, np.nan)
    return Curves(
        t_ms=np.arange(count) * 1000,
        lat=line,
        lon=line,
        speed_mps=band,
        distance_m=band,
        past_zero_m=Band(unknown, unknown, unknown),
        energy_past_zero_kwh=band,
        in_gap=np.arange(count) % 2 == 0,
        recharge_t_ms=np.arange(recharge_count) * 1000,
        recharge_energy_kwh=Band(charge, charge, charge),
        recharge_power_kw=Band(charge, charge, charge),
        log_t_ms=np.arange(log_count) * 100,
        log_energy_kwh=Band(logged, logged - 1, logged + 1),
    )


@pytest.mark.parametrize(("count", "max_points"), [(0, 2), (1, 2), (2, 2), (10, 10), (1001, 100)])
def test_curves_are_thinned_evenly_and_keep_both_ends(count, max_points):
    document = result_document.curves_document(some_curves(count, 3), max_points)
    t_ms = document["t_ms"]
    assert len(t_ms) == min(count, max_points)
    if count:
        assert t_ms[0] == 0
        assert t_ms[-1] == (count - 1) * 1000
    steps = np.diff(t_ms)
    assert not steps.size or steps.max() - steps.min() <= 1000
    assert document["speed_mps"]["value"] == [t / 1000 for t in t_ms]
    assert document["in_gap"] == [t % 2000 == 0 for t in t_ms]
    assert document["past_zero_m"]["low"] == [None] * len(t_ms)
    assert len(document["recharge_t_ms"]) == min(3, max_points)
    json.dumps(document, allow_nan=False)


@pytest.mark.parametrize("log_count", [0, 1, 700])
def test_a_logs_curve_is_thinned_on_a_time_base_of_its_own(log_count):
    document = result_document.curves_document(some_curves(1001, 3, log_count), 100)
    t_ms = document["log_t_ms"]
    assert len(t_ms) == min(log_count, 100)
    assert t_ms[-1:] == [(log_count - 1) * 100][: len(t_ms)]
    assert document["log_energy_kwh"]["value"] == [t / 100 for t in t_ms]
    assert len(document["t_ms"]) == 100


def test_fewer_than_two_points_are_refused():
    with pytest.raises(InputError, match="max_points: is 1"):
        result_document.curves_document(some_curves(3, 3), 1)
