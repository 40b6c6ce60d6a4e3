"""Logs of power in a session file: checked at the door, kept as they came."""

from __future__ import annotations

import contextlib
import copy
import json
from typing import Any

import numpy as np
import pytest
from exchange.documents import T_MS, a_document
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange import logs as log_columns
from ebbline.exchange import session_file


def a_log() -> dict[str, Any]:
    return {
        "device": "logger-1",
        "label": "Pack logger",
        "source_sha256": "ab" * 32,
        "t_ms": [T_MS, T_MS + 100, T_MS + 100],
        "voltage_v": [350.5, None, 349],
        "current_a": [20, -3.5, None],
        "soc_pct": [4.0, 4.0, 3.5],
        "own": {"kept": ["as", "it", "came"]},
    }


def with_log(log: Any) -> dict[str, Any]:
    return {**a_document(), "logs": [log]}


def test_a_log_comes_back_as_it_was() -> None:
    document = with_log(a_log())
    data = session_file.dump_document(document)
    assert session_file.load_document(data) == document
    assert session_file.dump_document(session_file.load_document(data)) == data


def test_the_view_of_a_log_has_nan_where_nothing_is_known() -> None:
    (log,) = session_file.to_session(with_log(a_log())).logs
    assert (log.device, log.label) == ("logger-1", "Pack logger")
    np.testing.assert_array_equal(log.t_ms, [T_MS, T_MS + 100, T_MS + 100])
    np.testing.assert_array_equal(log.voltage_v, [350.5, np.nan, 349])
    np.testing.assert_array_equal(log.current_a, [20, -3.5, np.nan])
    assert np.isnan(log.power_kw).all()
    assert np.isnan(log.speed_mps).all()


@pytest.mark.parametrize(
    ("key", "value", "where"),
    [
        ("device", None, "logs[0].device"),
        ("device", "", "logs[0].device"),
        ("label", 5, "logs[0].label"),
        ("source_sha256", "ab", "logs[0].source_sha256"),
        ("source_sha256", None, "logs[0].source_sha256"),
        ("t_ms", None, "logs[0].t_ms"),
        ("t_ms", [T_MS, T_MS - 1, T_MS], "logs[0].t_ms[1]"),
        ("t_ms", [T_MS, T_MS, T_MS + 0.5], "logs[0].t_ms[2]"),
        ("t_ms", [5, T_MS, T_MS], "logs[0].t_ms[0]"),
        ("voltage_v", [1, 2], "logs[0].voltage_v"),
        ("voltage_v", [350, -0.1, 350], "logs[0].voltage_v[1]"),
        ("current_a", [1, "2", 3], "logs[0].current_a[1]"),
        ("current_a", [1, float("nan"), 3], "logs[0].current_a[1]"),
        ("power_kw", [1, 2, True], "logs[0].power_kw[2]"),
        ("speed_mps", [-1, 2, 3], "logs[0].speed_mps[0]"),
        ("soc_pct", [5, 4, 101], "logs[0].soc_pct[2]"),
        ("own", {"x": float("inf")}, "logs[0].own.x"),
    ],
)
def test_what_is_wrong_with_a_log_is_refused_with_its_place(
    key: str, value: Any, where: str
) -> None:
    log = a_log()
    log[key] = value
    with pytest.raises(InputError) as refused:
        session_file.check_document(with_log(log))
    assert refused.value.where == where


@pytest.mark.parametrize("log", [None, 5, [], "log"])
def test_a_log_that_is_no_object_is_refused(log: Any) -> None:
    with pytest.raises(InputError, match=r"^logs\[0\]: "):
        session_file.check_document(with_log(log))


def test_two_logs_of_one_device_from_one_file_are_refused() -> None:
    document = with_log(a_log())
    document["logs"].append(copy.deepcopy(a_log()))
    with pytest.raises(InputError, match=r"^logs\[1\]: "):
        session_file.check_document(document)


def test_more_rows_than_we_take_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_columns, "MAX_ROWS", 2)
    with pytest.raises(TooLargeError, match=r"^logs\[0\]\.t_ms: has 3 values"):
        session_file.load_document(json.dumps(with_log(a_log())).encode())


@pytest.mark.slow
@settings(max_examples=300)
@given(
    st.sampled_from([*a_log(), "power_kw", "speed_mps"]),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4),
        lambda part: st.lists(part, max_size=4) | st.dictionaries(st.text(max_size=3), part),
        max_leaves=5,
    ),
)
def test_no_value_in_a_log_raises_anything_but_a_refusal(key: str, value: Any) -> None:
    with contextlib.suppress(InputError):
        document = with_log({**a_log(), key: value})
        session_file.check_document(document)
        session_file.to_session(document)
        assert session_file.load_document(session_file.dump_document(document)) == document
