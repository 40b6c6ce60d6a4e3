"""A display that was seen to change: where the truth then was, and when that was."""

import math
from copy import deepcopy

import numpy as np
import pytest
from coverage_study.evidence import simulate
from coverage_study.settings import SETTINGS
from exchange.documents import a_document

from ebbline.errors import InputError
from ebbline.exchange.result_document import to_document
from ebbline.exchange.session_file import dump_document, load_document, to_session
from ebbline.measure.analysis import analyze
from ebbline.measure.display import as_shown, edge_of, interval_of
from ebbline.measure.recharge.soc_energy import soc_steps
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.time.moments import (
    Events,
    Moment,
    TimedEvent,
    TimedReading,
    moment_of_reading,
)
from ebbline.records.evidence import Event, Reading
from ebbline.records.setup import Delay, Device, Protocol

T_MS = 1_772_460_020_000


def changed(before: float, value: float, step: float | None = 0.1, **more) -> Reading:
    return Reading(
        "r", "film", T_MS, more.pop("quantity", "trip_energy"), value, more.pop("unit", "kWh"),
        step, changed_from=before, t_to_ms=more.pop("t_to_ms", T_MS + 40), **more,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("before", "value", "rounding", "edge"),
    [
        (1.2, 1.3, "nearest", 1.25),
        (1.3, 1.2, "nearest", 1.25),  # braking put some back
        (1.2, 1.3, "down", 1.3),
        (1.3, 1.2, "down", 1.3),
    ],
)
def test_a_change_by_one_step_tells_the_edge_between_two_figures(before, value, rounding, edge):
    """Where a rounding display goes over: JCGM 100:2008, F.2.2.1, X ± δx/2 on either side."""
    reading = changed(before, value, rounding=rounding)
    assert edge_of(reading) == pytest.approx(edge)
    assert interval_of(reading) == pytest.approx((edge - 0.005, edge + 0.005))
    assert as_shown(reading) == (reading,)


def test_without_a_stated_step_the_quantity_s_own_counts():
    reading = changed(41.0, 42.0, None, quantity="charge_power", unit="kW")
    assert interval_of(reading) == pytest.approx((41.45, 41.55))
    assert edge_of(changed(1.2, 2.0, None)) is None


@pytest.mark.parametrize(("before", "value"), [(1.2, 1.5), (7.4, 0.0), (0.1, 0.0), (2.0, 72.0)])
def test_a_change_that_leaves_figures_out_or_falls_to_nothing_is_two_figures(before, value):
    """A cut in the film, a display that shows only some figures, or a reset: no edge was passed."""
    reading = changed(before, value, t_to_ms=T_MS + 5000)
    first, last = as_shown(reading)
    assert (first.t_ms, last.t_ms) == (T_MS, T_MS + 5000)
    assert interval_of(first) == pytest.approx((before - 0.05, before + 0.05))
    assert interval_of(last) == pytest.approx((value - 0.05, value + 0.05))


def test_the_moment_is_anywhere_between_the_two():
    """Uniform: middle, and a spread of the length over √12 (JCGM 100:2008, 4.3.7); no hand's
    delay is taken off.
    """
    clock = DeviceClock(Device("film", clock_offset_ms=1000.0, clock_offset_sd_ms=30.0))
    protocol = Protocol(reading_delay=Delay(5.0, 2.0))
    moment = moment_of_reading(changed(1.2, 1.3, t_to_ms=T_MS + 6000), clock, protocol)
    assert moment.t_s == pytest.approx(T_MS / 1000 + 4.0)
    assert moment.sd_s == pytest.approx(math.hypot(6 / math.sqrt(12), 0.03))
    for figure, at_s in zip(
        as_shown(changed(1.2, 1.9, t_to_ms=T_MS + 6000)), (1.0, 7.0), strict=True
    ):
        moment = moment_of_reading(figure, clock, protocol)
        assert moment.t_s == pytest.approx(T_MS / 1000 + at_s)
        assert moment.sd_s == pytest.approx(0.03, abs=1e-4)


def test_a_per_cent_seen_to_come_up_was_reached_then():
    """And not at any moment since the note before it."""
    protocol, clock = Protocol(), DeviceClock(Device("film"))
    readings = [
        Reading("a", "film", T_MS - 90_000, "soc", 0.0, "%"),
        changed(0.0, 1.0, 1.0, quantity="soc", unit="%"),
    ]
    timed = [TimedReading(r, moment_of_reading(r, clock, protocol)) for r in readings]
    at_ms = T_MS - 3_600_000
    zero = TimedEvent(Event("z", "film", at_ms, "zero_soc"), Moment(at_ms / 1000, 0.4))
    (step,) = soc_steps(Events.in_order([zero]), timed, T_MS / 1000 - 200)
    assert step.after_s == step.by_s == pytest.approx(T_MS / 1000 + 0.02)


# --- with a display whose changes are known ------------------------------------------------------


@pytest.fixture(scope="module")
def filmed():
    """Sessions whose readings are changes of a simulated display, found on a film."""
    return [simulate(SETTINGS["film-changes"], number) for number in range(3)]


@pytest.mark.slow
def test_the_truth_was_where_the_edge_says(filmed):
    """Of the simulated car's own count, at the moment that its display really changed."""
    told = 0
    for simulated in filmed:
        drive, reset_s = simulated.world.drive, simulated.world.trip_reset_s
        session = to_session(simulated.document)
        for reading in session.readings:
            at_s = simulated.notes.shown_s[reading.id]
            if edge_of(reading) is None or reading.quantity != "trip_energy" or at_s < reset_s:
                continue
            drawn_kwh = np.diff(drive.at(drive.drawn_kwh, np.array([reset_s, at_s])))[0]
            low, high = interval_of(reading)
            assert low <= drawn_kwh <= high
            told += 1
    assert told >= 12


@pytest.mark.slow
def test_changes_narrow_the_energy_and_hold_the_truth(filmed):
    """Against the same figures at the same moments, of which nobody saw that they were changing."""
    narrower, held = [], []
    for simulated in filmed:
        plain = deepcopy(simulated.document)
        for reading in plain["readings"]:
            if reading.pop("from", None) is not None:
                reading["t_ms"] = reading.pop("t_to_ms")
        seen, unseen = _energies(simulated.document), _energies(plain)
        true = {
            entry["event_id"]: entry["energy_past_zero_kwh"]
            for entry in simulated.truth["timeline"]
        }
        for name in seen.keys() & unseen.keys() & true.keys():
            ours = seen[name]
            if ours["high"] > ours["low"]:
                narrower.append((ours["high"] - ours["low"]) / _width(unseen[name]))
                held.append(ours["low"] <= true[name] <= ours["high"])
    assert len(held) > 40
    assert np.median(narrower) < 0.6
    assert np.mean(held) > 0.9


def _width(q: dict[str, float]) -> float:
    return q["high"] - q["low"]


def _energies(document) -> dict[str, dict[str, float]]:
    """Energy past zero at each event of the drive, by its id."""
    result = to_document(analyze(to_session(document)).result, "")
    return {
        entry["event_id"]: entry["energy_past_zero_kwh"]
        for entry in result["timeline"]
        if entry["energy_past_zero_kwh"] is not None
    }


# --- in a session file ---------------------------------------------------------------------------


def with_change(**more):
    document = a_document()
    document["readings"][0] |= {
        "value": 1.3, "from": 1.2, "t_ms": T_MS, "t_to_ms": T_MS + 40, **more
    }  # fmt: skip
    return document


def test_a_change_comes_back_as_it_was():
    document = with_change()
    assert load_document(dump_document(document)) == document
    reading = to_session(document).readings[0]
    assert (reading.changed_from, reading.value) == (1.2, 1.3)
    assert (reading.t_ms, reading.t_to_ms) == (T_MS, T_MS + 40)


@pytest.mark.parametrize(
    ("more", "where", "says"),
    [
        ({"t_to_ms": None}, "t_to_ms", "'from' says that the display changed"),
        ({"from": None}, "from", "t_to_ms says that the display changed"),
        ({"t_to_ms": T_MS - 1}, "t_to_ms", "lies before t_ms"),
        ({"t_to_ms": 1.5}, "t_to_ms", "whole"),
        ({"from": 1.3}, "from", "didn't change"),
        ({"from": "1.2"}, "from", "number"),
        ({"quantity": "soc", "unit": "%", "from": 101}, "from", "from 0 to 100"),
    ],
)
def test_a_change_that_says_nothing_is_refused_with_its_place(more, where, says):
    with pytest.raises(InputError) as caught:
        load_document(dump_document(with_change(**more)))
    assert caught.value.where == f"readings[0].{where}"
    assert says in str(caught.value)


def test_a_withdrawn_change_is_taken_as_any_other():
    document = with_change()
    document["readings"][1] |= {"from": 1.2, "t_to_ms": T_MS + 40}
    assert load_document(dump_document(document)) == document
    assert to_session(document).readings[1].withdraws
