"""Which log is used, and the log beside the display: a steady 36 kW is 0.01 kWh a second."""

from __future__ import annotations

import numpy as np
import pytest
from measure.drive import START_S
from measure.moments import noted, taps

from ebbline.measure import quantity
from ebbline.measure.power_log.choice import choose_log
from ebbline.measure.power_log.comparison import logged_energy
from ebbline.measure.power_log.curve import LogCurve, curve_of
from ebbline.measure.reserve.reserve import reserve_of
from ebbline.measure.reserve.span import Span, find_span
from ebbline.measure.run import Run
from ebbline.measure.time.clock import DeviceClock
from ebbline.records.evidence import Exclusion, PowerLog
from ebbline.records.result import Reserve
from ebbline.records.setup import Device, Pack, Protocol

EVENTS = taps(("trip_reset", 50.0), ("zero_soc", 100.0), ("propulsion_off", 500.0))
SPAN: Span = find_span(EVENTS, Protocol())[0]


def log(device: str, from_s: float, to_s: float, *, kw: float = 36.0) -> PowerLog:
    t_s = np.arange(from_s, to_s + 0.5)
    unknown = np.full(t_s.size, np.nan)
    return PowerLog(
        device=device,
        label=None,
        t_ms=np.round(1000 * (START_S + t_s)).astype(np.int64),
        voltage_v=unknown,
        current_a=unknown,
        power_kw=np.full(t_s.size, kw),
        speed_mps=unknown,
        soc_pct=unknown,
    )


def clock(device: str) -> DeviceClock:
    return DeviceClock(Device(device, clock_offset_sd_ms=1.0))


def chosen(*logs: PowerLog, excluded: tuple[Exclusion, ...] = ()) -> tuple[str | None, list[str]]:
    clocks = {each.device: clock(each.device) for each in logs}
    curve, findings = choose_log(logs, clocks, SPAN, excluded)
    return curve and curve.device, [finding.code for finding in findings]


def test_the_log_that_covers_most_of_the_reserve_is_used_however_long_another_is():
    before, within = log("before", -2000, 200), log("within", 150, 450)
    assert chosen(within, before) == ("within", ["power_log_chosen"])


def test_of_logs_that_cover_as_much_the_later_one_is_used():
    assert chosen(log("one", 0, 600), log("two", 50, 550))[0] == "two"
    assert chosen(log("two", 50, 550), log("one", 0, 600))[0] == "one"


def test_a_log_without_power_is_told_and_no_log_is_nothing():
    assert chosen(log("dumb", 0, 600, kw=np.nan)) == (None, ["power_log_unusable"])
    assert chosen() == (None, [])


def test_rows_left_out_by_choice_are_counted_and_make_a_gap():
    """1 Hz from 0 to 600 s is 601 rows; 200 to 219 s are 20, and 199 to 220 s is 21 s."""
    left_out = Exclusion("one", 1000 * (START_S + 200), 1000 * (START_S + 219))
    curve, findings = choose_log((log("one", 0, 600),), {"one": clock("one")}, SPAN, (left_out,))
    assert curve is not None
    said = {finding.code: finding.message for finding in findings}
    assert said["power_log_excluded"].startswith("20 of 601 rows")
    assert "1 gap, 21 s in all, the longest 21 s" in said["power_log_gaps"]
    assert chosen(log("one", 0, 600), excluded=(left_out, Exclusion("one", 0, 1e15)))[0] is None


def compared(
    *shown: tuple[float, float], whole: PowerLog | None = None, reserve: Reserve | None = None
):
    curve = curve_of(whole or log("one", 0, 600), clock("one"))
    readings = [noted("trip_energy", at_s, kwh, "kWh") for at_s, kwh in shown]
    nothing = reserve_of(Run(EVENTS, None, None), SPAN, Pack())
    found, findings = logged_energy(curve, SPAN, reserve or nothing, readings, EVENTS)
    return found, [finding.code for finding in findings]


def reserve(distance_m: float, energy_kwh: float) -> Reserve:
    return Reserve(
        quantity.normal(distance_m, 1.0), quantity.normal(energy_kwh, 0.05), None, None, False, None
    )


def test_the_reserve_by_the_log_is_its_integral_from_zero_to_the_end():
    """400 s at 0.01 kWh a second are 4 kWh, over 20 km 200 Wh/km."""
    found, codes = compared(reserve=reserve(20_000, 4.0))
    assert found.reserve_kwh.value == pytest.approx(4.0)
    assert found.past_zero_wh_per_km.value == pytest.approx(200)
    assert (found.against_display, codes) == (None, [])
    assert logged_energy(None, SPAN, reserve(1, 1), [], EVENTS) == (None, [])


def test_a_display_that_says_otherwise_of_the_reserve_is_in_doubt():
    assert compared(reserve=reserve(20_000, 5.0))[1] == ["power_log_reserve"]


def test_a_log_that_starts_after_zero_gives_no_reserve():
    found, codes = compared(whole=log("one", 200, 600))
    assert (found.reserve_kwh, codes) == (None, ["power_log_short"])


def test_log_and_display_are_compared_from_the_reset_to_the_last_reading():
    """Reset at 50 s, so at 450 s there are 4.0 kWh, and one reading is enough to say so."""
    found, codes = compared((450, 4.0))
    assert found.against_display.ratio.value == pytest.approx(1.0, abs=0.001)
    assert found.against_display.agrees
    assert codes == []


def test_a_display_that_shows_a_quarter_more_disagrees():
    found, codes = compared((250, 2.5), (450, 5.0))
    assert found.against_display.ratio.value == pytest.approx(0.8, abs=0.001)
    assert not found.against_display.agrees
    assert codes == ["power_log_contradicts_readings", "power_log_disagrees"]


def test_a_log_that_counts_backwards_is_asked_for_its_sign():
    curve: LogCurve | None = curve_of(log("one", 0, 600, kw=-36.0), clock("one"))
    readings = [noted("trip_energy", at_s, kwh, "kWh") for at_s, kwh in ((250, 2.0), (450, 4.0))]
    _, findings = logged_energy(curve, SPAN, reserve(1, -4), readings, EVENTS)
    said = {finding.code: finding.message for finding in findings}
    assert "was the sign of its current stated right?" in said["power_log_disagrees"]
