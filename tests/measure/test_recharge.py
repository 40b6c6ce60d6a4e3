"""The recharge: phases as change points, energy by power and by counter."""

import numpy as np
import pytest

from ebbline.measure.recharge.curve import charge_curve
from ebbline.measure.recharge.phases import find_phases
from ebbline.measure.recharge.recharge import recharge_of
from ebbline.measure.recharge.shown import shown
from ebbline.measure.time.moments import Events, Moment, TimedEvent, TimedReading
from ebbline.records.evidence import Event, Reading
from ebbline.records.result import Bounds
from ebbline.records.setup import Pack, Protocol

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
    power = shown(POWER, "charge_power", PLUG_S)
    found = find_phases(power)
    assert power.middle[found.trickle] == pytest.approx(1.5, abs=0.05)
    assert power.middle[found.full] == pytest.approx(40, abs=0.5)
    assert found.last_on == 11
    assert found.first_after == 12


def test_one_level_has_no_phases():
    flat = [reading("charge_power", START_S + s, 7.0, 0.1) for s in range(0, 600, 60)]
    found = find_phases(shown(flat, "charge_power", PLUG_S))
    assert found.first_after is None
    assert found.full.all()


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
    assert find_phases(shown(power, "charge_power", PLUG_S)).last_on == 4


def few(*shown_kw: tuple[float, float]):
    """A recharge of which so much was noted at so many seconds after the start of charging."""
    noted = [reading("charge_power", START_S + at, level, 1.0) for at, level in shown_kw]
    return recharge(noted, events=EVENTS[:3])


OFF_S = 1.959964 * np.hypot(0.4, 0.4)  # a reading's moment and the start's, 95 %


@pytest.mark.parametrize("full_kw", [72.0, 57.0, 40.0, 43.0])
def test_levels_are_never_averaged_across_the_jump(full_kw):
    """By hand: 2 kW shown at 90 s and at 300 s, the other level at 1,200 s."""
    found, _, findings = few((90, 2.0), (300, 2.0), (1200, full_kw))
    assert found.full_power_kw is None
    assert found.highest_kw == Bounds(full_kw, full_kw - 0.5, None)
    assert found.trickle_end_s.value is None
    assert found.trickle_end_s.low == pytest.approx(300 - OFF_S)
    assert found.trickle_end_s.high == pytest.approx(1200 + OFF_S)
    assert found.trickle_s.low == found.trickle_end_s.low
    assert found.trickle_s.high == found.trickle_end_s.high
    assert found.trickle_s.value == pytest.approx(750)
    assert 1.5 <= found.trickle_kw.low < 2.0 < found.trickle_kw.high <= 2.5
    # 2 kW for 300 to 1,200 s
    assert found.trickle_kwh.low < 0.167 + 0.05
    assert found.trickle_kwh.high > 0.667 - 0.05
    assert [finding.code for finding in findings] == ["full_power_not_seen"]


def test_full_power_is_the_level_that_two_readings_in_a_row_agree_on():
    found, _, findings = few((60, 2.0), (300, 30.0), (330, 57.0), (500, 57.0))
    assert found.full_power_kw.value == pytest.approx(57, abs=0.05)
    assert 56 < found.full_power_kw.low < found.full_power_kw.high < 58
    assert found.highest_kw.value == 57.0
    assert findings == []


def test_a_single_reading_on_the_rise_is_no_trickle():
    found, _, _ = few((60, 20.0), (300, 57.0), (400, 57.0))
    assert found.trickle_kw is None
    assert found.trickle_s is None
    assert found.trickle_end_s.low is None
    assert found.trickle_end_s.high == pytest.approx(300 + OFF_S)


def test_readings_that_all_can_be_of_the_trickle_tell_no_full_power():
    found, _, findings = few((60, 2.0), (120, 2.0), (180, 2.0), (240, 2.0))
    assert found.full_power_kw is None
    assert found.trickle_kw is not None
    assert found.trickle_end_s.low == pytest.approx(240 - OFF_S)
    assert found.trickle_end_s.high is None
    assert [finding.code for finding in findings] == ["full_power_not_seen"]


def test_what_was_taken_in_after_the_last_reading_of_the_trickle_is_not_known():
    noted = [reading("charge_power", START_S + at, 2.0, 1.0) for at in (60, 120)]
    events = (*EVENTS, event("charge_end", START_S + 900))
    found, _, findings = recharge(noted, events=events)
    assert found.energy_in_kwh is None
    assert found.energy_to_soc == ()
    assert found.below_zero_kwh is None
    assert "charge_readings_end" in {finding.code for finding in findings}


def test_between_two_levels_the_power_may_have_been_anything():
    _, curve, _ = few((90, 2.0), (300, 2.0), (1200, 72.0))
    band = curve.power_band(START_S + np.array([200.0, 700.0, 1200.0 + 20.0, 1200.0 + 60.0]))
    assert band.low[:2] == pytest.approx([1.5, 1.5])
    assert band.high[:2] == pytest.approx([2.5, 72.5])
    assert band.value[2] == 72.0
    assert np.isnan(band.value[3])  # nobody saw it settle


def test_energy_over_an_unseen_rise_lies_between_its_two_extremes():
    """By hand: 900 s at 2 kW or at 72 kW, after 300 s at 2 kW."""
    found, _, _ = few((90, 2.0), (300, 2.0), (1200, 72.0))
    assert found.energy_in_kwh.low < 0.17 + 0.5
    assert found.energy_in_kwh.high > 0.17 + 18.0


def test_a_counter_alone_bounds_the_energy_between_two_of_its_readings():
    """By hand: 0.1 kWh at 200 s, 5.6 kWh at 1,000 s, and 1 % seen at 900 s. At 90 kW the 5.5 kWh
    between take 220 s, which leaves 3.1 kWh at 900 s at the least.
    """
    noted = [
        reading("charge_energy", START_S + 200, 0.1, 0.1),
        reading("charge_energy", START_S + 1000, 5.6, 0.1),
    ]
    events = (*EVENTS[:3], event("soc_step", START_S + 900, 1.0))
    found, _, _ = recharge(noted, events=events)
    (first,) = found.energy_to_soc
    assert first.energy_kwh.low >= 0.05
    assert first.energy_kwh.low < 3.1
    assert first.energy_kwh.high == pytest.approx(5.65, abs=0.3)
    assert found.highest_kw is None
