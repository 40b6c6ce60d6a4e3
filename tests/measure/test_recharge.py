"""The recharge: phases as change points, energy by power and by counter."""

import numpy as np
import pytest

from ebbline.measure.recharge.curve import charge_curve, shown
from ebbline.measure.recharge.phases import find_phases
from ebbline.measure.recharge.recharge import recharge_of
from ebbline.measure.time.moments import Events, Moment, TimedEvent, TimedReading
from ebbline.records import Event, Pack, Protocol, Reading

PLUG_S = 1_700_000_000.0
START_S = PLUG_S + 30


def true_kw(t_s):
    """1.5 kW for 300 s, a rise over 60 s to 40 kW: our own invention."""
    return np.interp(t_s, START_S + np.array([0, 300, 360, 2000]), [1.5, 1.5, 40.0, 40.0])


def true_kwh(t_s):
    fine = np.arange(START_S, t_s + 0.05, 0.1)
    return float(np.trapezoid(true_kw(fine), fine) / 3600)


def reading(quantity: str, at_s: float, value: float, resolution: float) -> TimedReading:
    unit = {"charge_power": "kW", "charge_energy": "kWh", "soc": "%"}[quantity]
    name = f"{quantity}-{at_s:.0f}"
    return TimedReading(
        Reading(name, "phone", round(at_s * 1000), quantity, value, unit, resolution),
        Moment(at_s, 0.4),
    )


def event(kind: str, at_s: float, value: float | None = None) -> TimedEvent:
    return TimedEvent(
        Event(kind, "phone", round(at_s * 1000), kind, value=value), Moment(at_s, 0.4)
    )


POWER = [
    reading("charge_power", at, round(float(true_kw(at)), 1), 0.1)
    for at in START_S + np.arange(10.0, 900, 25)
]
COUNTER = [
    reading("charge_energy", at, round(true_kwh(at), 1), 0.1)
    for at in START_S + np.arange(50.0, 900, 100)
]
EVENTS = (
    event("zero_soc", PLUG_S - 600),
    event("plug_in", PLUG_S),
    event("charge_start", START_S),
    event("soc_step", START_S + 420, 1.0),
    event("soc_step", START_S + 470, 2.0),
)


STATED = Protocol(charging_efficiency=0.9)


def recharge(readings, events=EVENTS, protocol=STATED):
    found, findings = recharge_of(Events(events), readings, Pack(58.0), protocol)
    return found.figures, found.curve, findings


def test_phases_are_found_where_the_power_changes():
    found = find_phases(shown(POWER, "charge_power", PLUG_S))
    assert found is not None
    assert found.trickle_kw == pytest.approx(1.5, abs=0.05)
    assert found.full_kw == pytest.approx(40, abs=0.5)


def test_one_level_has_no_phases():
    flat = [reading("charge_power", START_S + s, 7.0, 0.1) for s in range(0, 600, 60)]
    assert find_phases(shown(flat, "charge_power", PLUG_S)) is None


@pytest.mark.parametrize("readings", [POWER, COUNTER, POWER + COUNTER])
def test_energy_in_holds_the_truth(readings):
    found, _, _ = recharge(readings)
    assert found is not None
    last_s = max(timed.moment.t_s for timed in readings)
    assert found.energy_in_kwh is not None
    assert found.energy_in_kwh.low < true_kwh(last_s) < found.energy_in_kwh.high


def test_power_and_counter_together_are_surer_than_either():
    def width(readings):
        found, _, _ = recharge(readings)
        return found.energy_in_kwh.high - found.energy_in_kwh.low

    assert width(POWER + COUNTER) < width(POWER)


def test_the_trickle_has_its_length_and_energy():
    found, _, _ = recharge(POWER + COUNTER)
    assert found is not None
    assert found.trickle_s is not None
    assert found.trickle_kwh is not None
    assert found.trickle_s.low < 300 < found.trickle_s.high
    assert found.trickle_s.high - found.trickle_s.low < 60
    assert found.trickle_kwh.low < 1.5 * 300 / 3600 < found.trickle_kwh.high


def test_energy_below_zero_is_that_to_the_first_per_cent_times_the_efficiency():
    found, _, findings = recharge(POWER + COUNTER)
    assert found is not None
    truth = 0.9 * true_kwh(START_S + 420)
    assert found.below_zero_kwh is not None
    assert found.below_zero_kwh.low < truth < found.below_zero_kwh.high
    assert [step.soc_pct for step in found.energy_to_soc] == [1.0, 2.0]
    assert "efficiency_assumed" not in {finding.code for finding in findings}


def test_an_unstated_efficiency_is_assumed_aloud():
    _, _, findings = recharge(POWER, protocol=Protocol())
    assert "efficiency_assumed" in {finding.code for finding in findings}


def test_a_zero_noted_on_the_charger_narrows_what_went_in_below_it():
    woke = event("zero_soc", START_S + 300)
    shown_late = [reading("soc", START_S + 420, 1.0, 1.0)]
    without, _, _ = recharge(POWER + COUNTER + shown_late, EVENTS[:3])
    noted, _, _ = recharge(POWER + COUNTER + shown_late, (*EVENTS[:3], woke))
    assert without.below_zero_kwh.high - without.below_zero_kwh.low > (
        noted.below_zero_kwh.high - noted.below_zero_kwh.low
    )


def test_a_car_that_never_showed_zero_has_no_energy_below_it():
    found, _, _ = recharge(POWER, events=EVENTS[1:])
    assert found is not None
    assert found.below_zero_kwh is None


def test_plugged_in_without_readings_is_said():
    found, curve, findings = recharge([])
    assert found is not None
    assert curve is None
    assert found.energy_in_kwh is None
    assert [finding.code for finding in findings] == ["no_charge_readings"]


def test_no_plug_in_is_no_recharge():
    assert recharge(POWER, events=EVENTS[:1]) == (None, None, [])


def test_nothing_is_charged_between_plug_in_and_charge_start():
    power = shown(POWER, "charge_power", PLUG_S)
    counter = shown([], "charge_energy", PLUG_S)
    found = charge_curve(power, counter, PLUG_S, START_S, START_S + 800)
    assert found is not None
    mean, _ = found.energy(np.array([PLUG_S]), np.array([START_S]))
    assert mean[0] == 0.0


def test_a_trickle_at_the_edge_of_a_display_step_is_one_level():
    """1.95 kW is shown as 1.9 or 2.0: a last reading of 2.0 still belongs to the trickle."""
    kw = [1.9, 1.9, 1.9, 1.9, 2.0, 10.8, 10.8, 10.8, 10.7, 10.8, 10.8, 10.8]
    power = [reading("charge_power", START_S + 50.0 * k, level, 0.1) for k, level in enumerate(kw)]
    phases = find_phases(shown(power, "charge_power", PLUG_S))
    assert phases is not None
    assert phases.last_trickle == 4
