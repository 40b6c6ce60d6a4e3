"""Real logs whose truth is known from something else than their positions."""

import json

import numpy as np
import pytest
from published.real_logs import HERE, TRUTH_OFF, cuts, logs, pauses, whole

RESTING = [name for name in logs() if name.startswith("rest-")]


def test_every_log_says_where_it_comes_from_and_under_which_licence():
    licences = (HERE / "LICENCES.txt").read_text(encoding="utf-8")
    for name in logs():
        raw = json.loads((HERE / f"{name}.json").read_bytes())
        assert raw["source"]
        assert raw["licence"] in ("MIT", "BSD-2-Clause")
        assert f"{name}" in licences or name.startswith("rest-")
    assert "rest-1 to rest-6" in licences


@pytest.mark.parametrize("with_speeds", [True, False])
@pytest.mark.parametrize("name", RESTING)
def test_a_receiver_at_rest_goes_no_further_than_ten_metres(name, with_speeds):
    """Receivers that stood: gpsd 3.22, test/daemon (ran). Their polylines make up to 49 m."""
    found = whole(logs()[name], with_speeds=with_speeds)
    assert found.holds
    assert found.ours_m["high"] < 10


@pytest.mark.parametrize("with_speeds", [True, False])
def test_a_minute_on_a_motorway_is_as_long_as_the_fused_pose_says(with_speeds):
    """comma2k19, Example_1 (ran): the integral of the pose's speed, 1,010 m, taken as good to
    0.1 %; fix stamps lag it by 0.15 s.
    """
    found = whole(logs()["motorway-minute"], with_speeds=with_speeds)
    assert found.holds
    assert found.ours_m["high"] - found.ours_m["low"] < 15


def test_a_ride_without_gaps_is_as_long_as_its_wheel_counted():
    """41 km by a wheel sensor whose circumference is good to about 0.3 % (ran)."""
    found = whole(logs()["ride-steady"], with_speeds=False)
    assert found.holds
    assert found.ours_m["value"] == pytest.approx(np.mean(found.truth_m), rel=0.003)


def test_a_run_is_as_long_as_its_watch_counted_but_for_a_jump():
    """The watch counts the legs between its own fixes, so that thirty metres out and back within
    four seconds are in its count; 9,007 m as it has it (ran).
    """
    log = logs()["run"]
    assert np.median(np.abs(log.legs_m - np.diff(log.true_m))) < 0.02
    assert log.jumped_m == pytest.approx(58, abs=2)
    found = whole(log, with_speeds=False)
    assert found.holds


def test_stretches_are_cut_out_where_the_wheel_counted_and_hold_what_they_say():
    found = cuts(logs()["ride-steady"], 15, with_speeds=False)
    assert len(found) > 20
    for cut in found:
        assert 15 <= cut.lasting_s <= 17
        assert cut.true_m * (1 + TRUTH_OFF["ride-steady"]) > cut.chord_m - 10
        assert cut.ours_m is not None
        assert cut.ours_m["low"] <= cut.ours_m["value"] <= cut.ours_m["high"]


def test_the_long_ride_paused_and_its_wheel_slept_in_some_of_the_pauses():
    log = logs()["ride-pauses"]
    found = pauses(log)
    assert max(pause.lasting_s for pause in found) == 1525
    asleep = [pause for pause in found if pause.chord_m > pause.counted_m + 30]
    assert len(asleep) == 3
    assert all(log.slept[pause.before] for pause in asleep)
    assert not np.any(logs()["ride-steady"].slept)
