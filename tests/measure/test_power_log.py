"""Energy by a log of voltage and current: against discharges whose integral is known exactly."""

from __future__ import annotations

import dataclasses
import re
from typing import Any

import numpy as np
import pytest
from measure import drive

from ebbline.measure.analysis import analyze
from ebbline.measure.power_log.curve import DRAWN_POINTS, LogCurve, curve_of
from ebbline.measure.time.clock import ClockPart, DeviceClock
from ebbline.measure.time.moments import Moment
from ebbline.records.arrays import FloatArray
from ebbline.records.curves import Analysis
from ebbline.records.evidence import Event, Exclusion, PowerLog, Reading
from ebbline.records.result import Finding
from ebbline.records.setup import Delay, Device, Protocol

T0_S = drive.START_S
CLOCK = DeviceClock(Device("logger", clock_offset_sd_ms=1e-3))  # compared, and as good as exact
# A discharge at falling voltage and rising current: V = 360 - t/100, I = 30 + t/50.
V0, V1, I0, I1 = 360.0, -0.01, 30.0, 0.02


def volts(t_s: FloatArray) -> FloatArray:
    return V0 + V1 * t_s


def amperes(t_s: FloatArray) -> FloatArray:
    return I0 + I1 * t_s


def truth_kwh(from_s: float, to_s: float) -> float:
    """The integral of (V0 + V1 t)(I0 + I1 t), by hand."""

    def primitive(t: float) -> float:
        return V0 * I0 * t + (V0 * I1 + V1 * I0) * t**2 / 2 + V1 * I1 * t**3 / 3

    return (primitive(to_s) - primitive(from_s)) / 3.6e6


def a_log(t_s: FloatArray, **columns: Any) -> PowerLog:
    unknown = np.full(t_s.size, np.nan)
    given = {"voltage_v": volts(t_s), "current_a": amperes(t_s), **columns}
    return PowerLog(
        device="logger",
        label=None,
        t_ms=np.rint((T0_S + t_s) * 1000).astype(np.int64),
        voltage_v=given["voltage_v"],
        current_a=given["current_a"],
        power_kw=given.get("power_kw", unknown),
        speed_mps=unknown,
        soc_pct=unknown,
    )


def curve(log: PowerLog, clock: DeviceClock = CLOCK) -> LogCurve:
    found = curve_of(log, clock)
    assert found is not None
    return found


def at(t_s: float, sd_s: float = 0.0) -> Moment:
    return Moment(T0_S + t_s, sd_s)


@pytest.mark.parametrize("step_s", [0.1, 1.0, 5.0])
@pytest.mark.parametrize(("from_s", "to_s"), [(0, 1200), (300, 900), (300.4, 900.7), (700, 100)])
def test_energy_is_the_integral(step_s: float, from_s: float, to_s: float) -> None:
    found = curve(a_log(np.arange(0, 1200.01, step_s))).between(at(from_s), at(to_s))
    assert found is not None
    truth = truth_kwh(from_s, to_s)
    assert found.value == pytest.approx(truth, rel=1e-6)
    assert found.low <= truth <= found.high


def test_the_interval_is_the_recorders_scale_where_nothing_else_is_in_doubt() -> None:
    """1 % of one standard deviation is 1.96 % at 95 % (JCGM 100:2008, table G.1)."""
    found = curve(a_log(np.arange(0, 1200.01, 0.1))).between(at(0), at(1200))
    assert found is not None
    assert (found.high - found.value) / found.value == pytest.approx(0.0196, rel=1e-3)


def test_logged_power_counts_as_voltage_times_current_does() -> None:
    t_s = np.arange(0, 1200.01, 1.0)
    unknown = np.full(t_s.size, np.nan)
    by_power = curve(a_log(t_s, voltage_v=unknown, power_kw=volts(t_s) * amperes(t_s) / 1000))
    by_current = curve(a_log(t_s))
    assert (by_power.source, by_current.source) == ("power", "voltage and current")
    np.testing.assert_allclose(by_power.energy_kwh, by_current.energy_kwh, rtol=1e-12)


def test_what_flows_back_is_taken_off() -> None:
    t_s = np.arange(0, 200.01, 1.0)
    current = np.where(t_s < 100, 50.0, -50.0)
    found = curve(a_log(t_s, voltage_v=np.full(t_s.size, 360.0), current_a=current))
    driven, net = found.between(at(0), at(99)), found.between(at(0), at(199))
    assert driven is not None
    assert net is not None
    assert driven.value == pytest.approx(360 * 50 * 99 / 3.6e6)
    assert net.value == pytest.approx(0.0, abs=1e-9)


def test_rows_of_voltage_and_of_current_may_alternate() -> None:
    t_s = np.arange(0, 1200.01, 0.5)
    odd = np.arange(t_s.size) % 2 == 1
    log = a_log(
        t_s,
        voltage_v=np.where(odd, np.nan, volts(t_s)),
        current_a=np.where(odd, amperes(t_s), np.nan),
    )
    found = curve(log).between(at(1), at(1199))
    assert found is not None
    assert found.value == pytest.approx(truth_kwh(1, 1199), rel=1e-6)


def test_power_that_swings_between_the_samples_is_less_sure_the_fewer_there_are() -> None:
    def widths(step_s: float) -> float:
        t_s = np.arange(0, 600.01, step_s)
        current = 60 + 50 * np.sin(2 * np.pi * t_s / 13)
        found = curve(a_log(t_s, current_a=current)).between(at(0), at(600))
        assert found is not None
        fine_s = np.arange(0, 600.001, 0.001)
        power_w = volts(fine_s) * (60 + 50 * np.sin(2 * np.pi * fine_s / 13))
        truth = float(np.trapezoid(power_w, fine_s)) / 3.6e6
        assert found.low <= truth <= found.high
        return found.high - found.low

    assert widths(0.1) < widths(4.0) < widths(6.0)


def test_what_all_steps_miss_alike_adds_up() -> None:
    """A power that bends one way: every chord lies above it, by h²/12 of the bend in all."""
    t_s = np.arange(0, 1000.01, 5.0)
    found = curve(a_log(t_s, voltage_v=np.full(t_s.size, 1000.0), current_a=(t_s / 10) ** 2))
    energy = found.between(at(0), at(1000))
    assert energy is not None
    missed_kwh = 1000 / 100 * 5.0**2 / 12 * 2 * 1000 / 3.6e6  # h²/12 (P'(b) - P'(a))
    truth_kwh = 1000 / 100 * 1000**3 / 3 / 3.6e6
    assert energy.value - truth_kwh == pytest.approx(missed_kwh, rel=1e-6)
    sd = (energy.high - energy.value) / 1.959964
    assert np.sqrt(sd**2 - (0.01 * energy.value) ** 2) > missed_kwh


def test_a_gap_is_marked_and_widens_the_interval_that_holds_it_alone() -> None:
    t_s = np.arange(0, 1200.01, 1.0)
    current = 60 + 30 * np.sin(2 * np.pi * t_s / 97)
    whole = curve(a_log(t_s, current_a=current))
    kept = (t_s < 500) | (t_s > 560)
    torn = curve(a_log(t_s[kept], current_a=current[kept]))
    assert np.count_nonzero(torn.gap) == 1
    truth, across = whole.between(at(400), at(700)), torn.between(at(400), at(700))
    before = torn.between(at(100), at(400))
    assert truth is not None
    assert across is not None
    assert before is not None
    assert across.high - across.low > 1.5 * (truth.high - truth.low)
    assert across.low <= truth.value <= across.high
    assert before == whole.between(at(100), at(400))


def test_nothing_is_said_beyond_the_log() -> None:
    found = curve(a_log(np.arange(0, 100.01, 1.0)))
    assert found.between(at(-1), at(50)) is None
    assert found.between(at(50), at(101)) is None


def test_a_moments_doubt_counts_with_the_power_there() -> None:
    found = curve(a_log(np.arange(0, 1200.01, 1.0)))
    exact, vague = found.between(at(300), at(900)), found.between(at(300, 5), at(900))
    assert exact is not None
    assert vague is not None
    power_kw = float(volts(np.array(300.0)) * amperes(np.array(300.0))) / 1000
    added = np.sqrt((vague.high - vague.value) ** 2 - (exact.high - exact.value) ** 2) / 1.959964
    assert added == pytest.approx(power_kw * 5 / 3600, rel=1e-6)


def test_a_clock_that_nobody_compared_is_doubted_with_the_change_of_power() -> None:
    log = a_log(np.arange(0, 1200.01, 1.0))
    sure = curve(log).between(at(300), at(900))
    unsure = curve(log, DeviceClock(Device("logger"))).between(at(300), at(900))
    assert sure is not None
    assert unsure is not None
    power_w = volts(np.array([300.0, 900.0])) * amperes(np.array([300.0, 900.0]))
    added = np.sqrt((unsure.high - unsure.value) ** 2 - (sure.high - sure.value) ** 2) / 1.959964
    assert added == pytest.approx(float(power_w[1] - power_w[0]) * 2 / 3.6e6, rel=1e-6)


def test_the_devices_clock_is_put_right() -> None:
    t_s = np.arange(0, 1200.01, 1.0)
    slow = DeviceClock(Device("logger", clock_offset_ms=2000.0))
    set_later = DeviceClock(
        Device("logger"), (ClockPart(0, 0, round((T0_S + 5000) * 1000), 2000.0),)
    )
    for clock in (slow, set_later):
        found = curve(a_log(t_s), clock).between(at(302), at(902))
        assert found is not None
        assert found.value == pytest.approx(truth_kwh(300, 900), rel=1e-6)


@pytest.mark.parametrize("missing", ["voltage_v", "current_a"])
def test_half_of_the_power_is_none(missing: str) -> None:
    t_s = np.arange(0, 100.01, 1.0)
    assert curve_of(a_log(t_s, **{missing: np.full(t_s.size, np.nan)}), CLOCK) is None
    assert curve_of(a_log(t_s[:1]), CLOCK) is None


@pytest.mark.slow
def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """400 recorders, each with a scale of its own, of a power that wanders; 2 s apart."""
    rng = np.random.default_rng(20)
    held = 0
    fine_s = np.arange(0, 600.01, 0.1)
    for _ in range(400):
        swings = rng.normal(0, 1, fine_s.size)
        kept = np.exp(-0.1 / 8)  # a first-order process of 8 s
        for k in range(1, fine_s.size):
            swings[k] = kept * swings[k - 1] + np.sqrt(1 - kept**2) * swings[k]
        current = 60 + 25 * swings
        truth = float(np.trapezoid(volts(fine_s) * current, fine_s)) / 3.6e6
        scale = 1 + rng.normal(0, 0.01)
        log = a_log(fine_s[::20], current_a=scale * current[::20])
        found = curve(log).between(at(0), at(600))
        assert found is not None
        held += found.low <= truth <= found.high
    assert 0.92 <= held / 400 <= 0.99  # 95 % less and more three standard deviations


# --- a whole session ----------------------------------------------------------------------

ZERO_S, END_S = 300.0, 880.0


def a_session(
    *,
    log: PowerLog | tuple[PowerLog, ...] | None = None,
    display_scale: float = 1.0,
    excluded: tuple[Exclusion, ...] = (),
) -> Analysis:
    """Ten minutes past zero on the oval, trip energy read every two minutes."""
    driven = drive.oval(900.0)
    seen = drive.fixes(driven, seed=3)
    logs = (a_log(np.arange(-20, 900.01, 1.0)),) if log is None else log
    read_s = np.arange(60.0, 880.0, 120.0)
    events = [("trip_reset", 0.0), ("zero_soc", ZERO_S), ("contactors_open", END_S)]
    return analyze(
        drive.session(
            seen,
            protocol=Protocol(tap_delay=Delay(0.0, 0.3)),
            logs=logs if isinstance(logs, tuple) else (logs,),
            excluded=excluded,
            events=tuple(
                Event(kind, "phone", round((T0_S + t_s) * 1000), kind) for kind, t_s in events
            ),
            readings=tuple(
                Reading(
                    id=f"trip-{k}",
                    device="phone",
                    t_ms=round((T0_S + t_s) * 1000),
                    quantity="trip_energy",
                    value=round(display_scale * truth_kwh(0, float(t_s)), 1),
                    unit="kWh",
                    resolution=0.1,
                )
                for k, t_s in enumerate(read_s)
            ),
        )
    )


def of_log(analysis: Analysis) -> list[Finding]:
    return [f for f in analysis.result.findings if f.code.startswith("power_log")]


def test_the_reserve_by_the_log_stands_beside_the_displays() -> None:
    analysis = a_session()
    found, display = analysis.result.power_log, analysis.result.reserve.energy_kwh
    assert found is not None
    assert found.reserve_kwh is not None
    assert display is not None
    truth = truth_kwh(ZERO_S, END_S)
    assert found.device == "logger"
    assert found.reserve_kwh.value == pytest.approx(truth, rel=1e-4)
    assert found.reserve_kwh.low <= truth <= found.reserve_kwh.high
    assert found.reserve_kwh.high - found.reserve_kwh.low < (display.high - display.low) / 2
    assert found.past_zero_wh_per_km is not None
    assert found.past_zero_wh_per_km.value == pytest.approx(
        truth / (18.0 * (END_S - ZERO_S)) * 1e6, rel=0.01
    )
    assert found.against_display is not None
    assert found.against_display.agrees
    assert found.against_display.ratio.value == pytest.approx(1.0, abs=0.03)
    assert of_log(analysis) == []


def test_the_curve_runs_from_zero_to_the_end_of_the_log() -> None:
    curves = a_session().curves
    t_s = curves.log_t_ms / 1000 - T0_S
    assert t_s[0] == pytest.approx(ZERO_S)
    assert t_s[-1] == pytest.approx(900)
    expected = [truth_kwh(ZERO_S, float(t)) for t in t_s]
    np.testing.assert_allclose(curves.log_energy_kwh.value, expected, atol=1e-5)
    assert np.all(np.diff(curves.log_energy_kwh.high - curves.log_energy_kwh.low) > -1e-12)


def test_a_long_log_is_thinned_for_drawing_and_keeps_its_ends() -> None:
    log = a_log(np.arange(-20, 900.01, 0.05))
    curves = a_session(log=log).curves
    assert curves.log_t_ms.size <= DRAWN_POINTS + 1
    assert curves.log_t_ms[-1] == log.t_ms[-1]


def test_a_session_without_a_log_says_nothing_of_one() -> None:
    analysis = a_session(log=())
    assert analysis.result.power_log is None
    assert analysis.curves.log_t_ms.size == 0
    assert of_log(analysis) == []


def test_a_display_that_shows_too_little_is_contradicted_by_name() -> None:
    analysis = a_session(display_scale=0.85)
    found = analysis.result.power_log
    assert found is not None
    assert found.against_display is not None
    assert not found.against_display.agrees
    assert found.against_display.ratio.value == pytest.approx(1 / 0.85, abs=0.04)
    (said,) = (f for f in of_log(analysis) if f.code == "power_log_disagrees")
    assert "trip-6" in said.where
    assert "trip-" not in said.message
    assert re.search(r"and “Trip energy” at \d\d:\d\d:\d\d UTC the log of", said.message)


def test_a_current_of_the_wrong_sign_is_suspected_in_plain_words() -> None:
    log = a_log(np.arange(-20, 900.01, 1.0))
    analysis = a_session(log=dataclasses.replace(log, current_a=-log.current_a))
    assert any("sign" in finding.message for finding in of_log(analysis))
    assert "power_log_contradicts_readings" in {finding.code for finding in of_log(analysis)}


def test_one_reading_that_is_wrong_is_named_with_its_neighbour() -> None:
    session_log = a_log(np.arange(-20, 900.01, 1.0))
    torn = session_log.current_a.copy()
    inside = (session_log.t_ms >= (T0_S + 420) * 1000) & (session_log.t_ms < (T0_S + 540) * 1000)
    torn[inside] *= 3
    analysis = a_session(log=dataclasses.replace(session_log, current_a=torn))
    (said,) = (f for f in of_log(analysis) if f.code == "power_log_contradicts_readings")
    assert said.where == "readings trip-3 and trip-4"
    assert "trip-" not in said.message
    assert said.message.startswith("Two neighbouring readings contradict the log of")


def test_a_log_that_stops_early_gives_no_reserve_and_says_why() -> None:
    analysis = a_session(log=a_log(np.arange(-20, 600.01, 1.0)))
    found = analysis.result.power_log
    assert found is not None
    assert found.reserve_kwh is None
    assert found.past_zero_wh_per_km is None
    assert found.against_display is not None
    assert "power_log_short" in {finding.code for finding in of_log(analysis)}


def test_gaps_of_a_log_are_named() -> None:
    t_s = np.arange(-20, 900.01, 1.0)
    analysis = a_session(log=a_log(t_s[(t_s < 500) | (t_s > 560)]))
    (said,) = (f for f in of_log(analysis) if f.code == "power_log_gaps")
    assert "1 gap" in said.message
    assert "62 s" in said.message


def test_of_several_logs_the_one_that_covers_the_reserve_is_used() -> None:
    short = dataclasses.replace(a_log(np.arange(-20, 700.01, 1.0)), device="short")
    t_s = np.arange(-20, 900.01, 1.0)
    empty = dataclasses.replace(a_log(t_s, voltage_v=np.full(t_s.size, np.nan)), device="empty")
    analysis = a_session(log=(short, a_log(t_s), empty))
    found = analysis.result.power_log
    assert found is not None
    assert found.device == "logger"
    codes = {finding.code for finding in of_log(analysis)}
    assert {"power_log_chosen", "power_log_unusable"} <= codes


def test_a_log_that_is_left_out_is_as_good_as_gone_and_that_is_told() -> None:
    """The way back for a log brought in with the wrong sign."""
    right = a_log(np.arange(-20, 900.01, 1.0))
    wrong = dataclasses.replace(right, device="wrong", current_a=-right.current_a)
    both = a_session(log=(right, wrong))
    everything = Exclusion("wrong", 0.0, 1e14, "brought in by mistake")
    alone = a_session(log=right)
    left_out = a_session(log=(right, wrong), excluded=(everything,))
    assert both.result.power_log != alone.result.power_log
    assert left_out.result.power_log == alone.result.power_log
    assert {f.code for f in of_log(left_out)} - {f.code for f in of_log(alone)} == {
        "power_log_excluded"
    }


def test_of_two_logs_of_the_same_stretch_the_later_import_is_used() -> None:
    """As when a sign was stated wrongly at first: the first stays, the second counts."""
    right = a_log(np.arange(-20, 900.01, 1.0))
    wrong = dataclasses.replace(right, device="first", current_a=-right.current_a)
    analysis = a_session(log=(wrong, right))
    found = analysis.result.power_log
    assert found is not None
    assert found.device == "logger"
    assert found.against_display is not None
    assert found.against_display.agrees
