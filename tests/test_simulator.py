"""The simulator behind the samples: truth that obeys physics, evidence as noisy as it claims."""

from dataclasses import replace

import numpy as np
import pytest
from simulator.car import Car
from simulator.display import Display
from simulator.drive import Crawl, Halt, Plan, Restart, drive
from simulator.invented import CAR_A, STRAIGHTS_AT_M, course_one, falling_steps
from simulator.receiver import SIGMA_TO_RADIUS_95, FusedSpeeds, Receiver, receive
from simulator.recharge import ChargePlan, recharge
from simulator.recorder import Clock, Notebook, Passenger
from simulator.smooth_errors import SmoothErrors

COURSE = course_one()


@pytest.fixture(scope="module")
def lone_drive():
    """Three laps without wind or an unsteady foot."""
    plan = Plan(stop_at_m=7200.0, wind_mps=0.0, unsteadiness_mps=0.0)
    return drive(COURSE, CAR_A, plan, np.random.default_rng(1))


def test_position_is_the_integral_of_speed(lone_drive):
    steps_m = np.diff(lone_drive.s_m)
    v_mps = lone_drive.v_mps
    trapezoids_m = (v_mps[1:] + v_mps[:-1]) / 2 * np.diff(lone_drive.t_s)
    assert np.abs(np.cumsum(steps_m) - np.cumsum(trapezoids_m)).max() < 0.5


def test_steady_driving_draws_the_road_load_and_the_auxiliaries():
    """Force a + b v + c v² (the form of 40 CFR 1066.301) at the wheels, over the efficiency."""
    car = replace(CAR_A, mass_kg=1e-3)  # no energy in its motion
    plan = Plan(stop_at_m=5000.0, wind_mps=0.0, unsteadiness_mps=0.0)
    driven = drive(COURSE, car, plan, np.random.default_rng(1))
    v_mps = driven.v_mps
    force_n = car.a_n + car.b_n_per_mps * v_mps + car.c_n_per_mps2 * v_mps**2
    power_kw = force_n * v_mps / 1000 / car.driveline_efficiency + car.auxiliary_kw
    expected_kwh = np.sum(power_kw[:-1] * np.diff(driven.t_s)) / 3600
    assert driven.drawn_kwh[-1] == pytest.approx(expected_kwh, rel=0.01)


def test_the_car_keeps_to_the_protocols_band_between_start_and_stop(lone_drive):
    under_way = (lone_drive.s_m > -500) & (lone_drive.s_m < 7000)
    speeds_kmh = lone_drive.v_mps[under_way] * 3.6
    assert speeds_kmh.min() > 40
    assert speeds_kmh.max() < 90


def test_corners_are_slower_than_straights(lone_drive):
    moving = lone_drive.v_mps > 5
    curvature = COURSE.curvature_per_m(lone_drive.s_m[moving])
    v_mps = lone_drive.v_mps[moving]
    assert v_mps[curvature > 0.006].mean() < 0.85 * v_mps[curvature < 0.001].mean()


def test_a_car_is_never_faster_past_zero_than_it_still_gives():
    fades, floored = falling_steps(0.06, 0.42, 0.56, 0.67)
    car = replace(CAR_A, start_soc_pct=1.5, fades=fades)
    driven = drive(COURSE, car, Plan(floored=floored), np.random.default_rng(5))
    for fade, following in zip(fades, [*fades[1:], None], strict=True):
        end_kwh = car.reserve_kwh if following is None else following.energy_past_zero_kwh
        past_zero_kwh = driven.drawn_kwh - car.zero_at_kwh
        settled = (past_zero_kwh > fade.energy_past_zero_kwh + 0.03) & (past_zero_kwh < end_kwh)
        assert driven.v_mps[settled].max() < fade.cap_mps + 0.2
    assert len(STRAIGHTS_AT_M) == 2
    assert [happening.kind for happening in driven.happenings][-3:] == [
        "propulsion_off", "standstill", "contactors_open",
    ]  # fmt: skip


def test_what_goes_in_comes_out_less_the_charging_losses():
    car = replace(Car(), start_soc_pct=1.0)
    driven = drive(COURSE, car, Plan(), np.random.default_rng(2))
    charge = recharge(car, driven, ChargePlan(), np.random.default_rng(3))
    stored_kwh = (charge.soc_pct[-1] - charge.soc_pct[0]) / 100 * car.usable_kwh
    assert stored_kwh / charge.energy_in_kwh[-1] == pytest.approx(car.charging_efficiency)
    integral_kwh = np.trapezoid(charge.power_kw, charge.t_s) / 3600
    assert charge.energy_in_kwh[-1] == pytest.approx(integral_kwh)


def test_fixes_are_as_far_off_as_their_radius_says():
    """A 95 % radius holds 95 % of fixes (W3C Geolocation); many receivers, one fix in a minute."""
    plan = Plan(stop_at_m=2400.0, parked_after_s=3000.0)
    driven = drive(COURSE, CAR_A, plan, np.random.default_rng(1))
    receiver = Receiver(time_constant_s=20.0, lost_share=0.0)
    inside = []
    for seed in range(20):
        fixes = receive(COURSE, driven, 3000.0, receiver, np.random.default_rng(seed))
        lat, lon = COURSE.geographic(COURSE.plane_at(driven.at(driven.s_m, fixes.t_s)))
        east_m = (fixes.lon - lon) * 111_320 * np.cos(np.radians(12))
        north_m = (fixes.lat - lat) * 110_600
        inside.append((np.hypot(east_m, north_m) < fixes.accuracy_m)[::60])
    assert np.mean(np.concatenate(inside)) == pytest.approx(0.95, abs=0.025)
    assert pytest.approx(2.447747, abs=1e-6) == SIGMA_TO_RADIUS_95  # references: C2


def test_position_errors_hang_together_over_the_time_constant():
    """First-order Gauss-Markov: correlation falls to 1/e over the time constant."""
    plan = Plan(stop_at_m=100.0, start_m=0.0, parked_after_s=20_000.0)
    driven = drive(COURSE, CAR_A, plan, np.random.default_rng(1))
    receiver = Receiver(wandering_m=3.0, white_m=0.0, time_constant_s=40.0, lost_share=0.0)
    fixes = receive(COURSE, driven, 20_000.0, receiver, np.random.default_rng(4))
    north_m = (fixes.lat[200:] - fixes.lat[200:].mean()) * 110_600
    assert north_m.std() == pytest.approx(3.0, rel=0.15)
    after_40_s = np.mean(north_m[40:] * north_m[:-40]) / north_m.var()
    assert after_40_s == pytest.approx(np.exp(-1), abs=0.12)


@pytest.mark.parametrize("slow_s", [60.0, 600.0])
@pytest.mark.parametrize("smoothing_s", [3.0, 8.0])
def test_smooth_errors_are_as_static_logs_of_real_receivers_show_them(slow_s, smoothing_s):
    """Autocorrelation 0.96 to 1.00 after a second, a white part of 0.02 m, steps of a second at no
    more than 0.15 of the standard deviation (seven logs of gpsd 3.22's test/daemon, ran).
    """
    errors = SmoothErrors(((2.0, slow_s), (2.0, 15.0)), smoothing_s)
    offsets_m = errors.at(np.arange(0.0, 20_000.0), np.random.default_rng(9))[:, 0]
    deviation_m = offsets_m - offsets_m.mean()
    assert np.mean(deviation_m[1:] * deviation_m[:-1]) / np.mean(deviation_m**2) > 0.96
    assert np.std(np.diff(offsets_m)) < 0.15 * np.std(offsets_m)
    quick = np.diff(errors.at(np.arange(0.0, 50.0, 0.01), np.random.default_rng(9))[:, 0], 3)
    assert np.std(quick) / np.sqrt(20) == pytest.approx(0.02, rel=0.1)  # third differences
    if slow_s < 200:  # else these hours hold too few of its wanderings
        assert np.std(offsets_m) == pytest.approx(errors.sigma_m, rel=0.25)


@pytest.mark.parametrize(("wanders", "low", "high"), [(0.0, -0.064, -0.056), (0.1, -0.075, 0.075)])
def test_a_phones_own_speeds_are_late_and_off_by_at_most_seven_per_cent(
    lone_drive, wanders, low, high
):
    fused = FusedSpeeds(off_by=-0.06, wanders=wanders, late_s=0.8, noise_mps=0.0)
    until_s = float(lone_drive.t_s[-1])
    receiver = Receiver(fused=fused, lost_share=0.0)
    fixes = receive(COURSE, lone_drive, until_s, receiver, np.random.default_rng(4))
    earlier_mps = lone_drive.at(lone_drive.v_mps, fixes.t_s - fused.late_s)
    steady = (earlier_mps > 15) & (np.abs(np.gradient(earlier_mps, fixes.t_s)) < 0.05)
    off = fixes.speed_mps[steady] / earlier_mps[steady] - 1
    assert np.count_nonzero(steady) > 50
    assert low < off.min()
    assert off.max() < high
    assert np.ptp(off) > wanders / 2


def test_fixes_come_at_steps_of_any_length_between_the_two_given(lone_drive):
    receiver = Receiver(irregular_s=(5.0, 7.0), lost_share=0.0)
    fixes = receive(COURSE, lone_drive, 300.0, receiver, np.random.default_rng(4), from_s=-60.0)
    assert fixes.t_s[0] == -60.0
    assert np.diff(fixes.t_s).min() > 5
    assert np.diff(fixes.t_s).max() < 7
    assert np.std(np.diff(fixes.t_s)) == pytest.approx(2 / np.sqrt(12), rel=0.25)  # even spread


def test_the_car_stands_where_it_was_told_to_and_crawls_where_it_must():
    halts = (Halt(500.0, 40.0), Halt(3000.0, 200.0))
    plan = Plan(halts=halts, crawls=(Crawl(1500.0, 1600.0, 2.0),), stop_at_m=4000.0)
    driven = drive(COURSE, CAR_A, plan, np.random.default_rng(1))
    for halt in halts:
        standing = np.abs(driven.s_m - halt.at_m) < 1.0
        assert np.ptp(driven.t_s[standing & (driven.v_mps == 0)]) == pytest.approx(
            halt.lasting_s, abs=0.3
        )
    slow = (driven.s_m > 1550) & (driven.s_m < 1595)
    assert driven.v_mps[slow].mean() == pytest.approx(2.0, abs=0.5)
    between = (driven.s_m > 1800) & (driven.s_m < 2700)
    assert driven.v_mps[between].min() > 10


@pytest.mark.parametrize(("gives_kwh", "ends"), [(0.0, 1), (0.2, 2)])
def test_a_restart_drives_on_until_propulsion_ends_again_or_is_refused(gives_kwh, ends):
    fades, floored = falling_steps(0.06, 0.42, 0.56, 0.67)
    car = replace(CAR_A, start_soc_pct=1.5, fades=fades)
    plan = Plan(floored=floored, restart=Restart(after_s=30.0, gives_kwh=gives_kwh))
    driven = drive(COURSE, car, plan, np.random.default_rng(5))
    kinds = [happening.kind for happening in driven.happenings]
    assert kinds.count("propulsion_off") == kinds.count("standstill") == ends
    first_s, last_s = driven.when("propulsion_off"), driven.last("propulsion_off")
    drawn_kwh = np.diff(driven.at(driven.drawn_kwh, np.array([first_s, last_s])))
    assert (last_s - first_s > 100) == (ends == 2)
    assert drawn_kwh == pytest.approx(gives_kwh, abs=0.01 + 0.02 * (ends == 2))  # it stood, too
    tried = next(h for h in driven.happenings if h.kind == "restart")
    assert tried.text == ("succeeded" if gives_kwh else "failed")


def test_a_film_shows_the_figure_before_and_after_it_changed(lone_drive):
    display = Display(CAR_A, lone_drive, reset_s=100.0)
    clocks = {"film-1": Clock(0)}
    notes = Notebook("film", display, clocks, Passenger(), np.random.default_rng(2))
    changes_s = display.changes_s("trip_distance", 60.0, float(lone_drive.t_s[-1]))
    assert len(changes_s) == pytest.approx(7900 * CAR_A.meter_ratio / 100, abs=4)
    for change_s in changes_s:
        notes.see_change("trip_distance", change_s, 0.5, "film-1")
    for reading, change_s in zip(notes.readings, changes_s, strict=True):
        assert reading["t_ms"] <= 1000 * change_s + 11
        assert reading["t_to_ms"] >= 1000 * change_s - 11
        assert reading["value"] - reading["from"] == pytest.approx(0.1)
    # the trip after its reset is a whole number of tenths at each change
    driven_m = lone_drive.at(lone_drive.s_m, np.array([100.0, *changes_s])) * CAR_A.meter_ratio
    tenths = (driven_m[1:] - driven_m[0]) / 100
    after = np.array(changes_s) > 100
    np.testing.assert_allclose(tenths[after], np.round(tenths[after]), atol=0.01)


def test_a_change_that_went_back_within_a_cut_is_not_noted(lone_drive):
    """Braking took the energy back; a short cut shows both changes, a long one neither."""
    at_s = lone_drive.t_s - lone_drive.t_s[0]
    swung = replace(lone_drive, drawn_kwh=1.03 + 0.04 * np.sin(2 * np.pi * at_s / 100))
    display = Display(CAR_A, swung, energy_before_kwh=0.0)
    changes_s = display.changes_s("trip_energy", 1.0, 99.0)
    assert len(changes_s) == 2
    for unseen_s, noted in ((0.1, 2), (95.0, 0)):
        notes = Notebook("cut", display, {"film-1": Clock(0)}, Passenger(), _Middle())
        for change_s in changes_s:
            notes.see_change("trip_energy", change_s, unseen_s, "film-1")
        assert len(notes.readings) == noted


class _Middle:
    """The change lies in the middle of each cut."""

    def random(self) -> float:
        return 0.5


def test_who_says_about_so_many_is_right_to_the_whole_unit(lone_drive):
    display = Display(CAR_A, lone_drive, energy_before_kwh=0.0)
    clocks = {"phone-1": Clock(0)}
    notes = Notebook("about", display, clocks, Passenger(), np.random.default_rng(2))
    for t_s in np.linspace(10.0, lone_drive.t_s[-1], 60).tolist():
        notes.say_about("trip_energy", t_s)
    for reading in notes.readings:
        true_kwh = lone_drive.at(lone_drive.drawn_kwh, notes.shown_s[reading["id"]])
        assert reading["about"]
        assert reading["value"] == round(reading["value"])
        assert reading["value"] == pytest.approx(float(true_kwh), abs=1.0)


def test_taps_come_as_late_as_the_passenger_is_slow():
    rng = np.random.default_rng(6)
    delays_s = [Passenger().delay_s(rng) for _ in range(5000)]
    assert np.mean(delays_s) == pytest.approx(0.9, abs=0.03)
    assert np.std(delays_s) == pytest.approx(0.4, abs=0.04)
    assert min(delays_s) > 0


def test_a_clock_that_is_set_writes_another_time_from_then_on():
    clock = Clock(1_000_000, offset_ms=-200.0, settings=((10.0, 3_600_000.0),))
    assert clock.stamp_ms(9.0) == 1_009_200
    assert clock.stamp_ms(10.0) == 4_610_200


@pytest.mark.parametrize("quantity", ["trip_energy", "trip_distance", "soc", "odometer"])
@pytest.mark.parametrize("unit", ["km", "mi"])
def test_a_display_shows_the_truth_within_its_resolution(lone_drive, quantity, unit):
    display = Display(CAR_A, lone_drive, reset_s=100.0, unit=unit, energy_rounding="down")
    metres = {"km": 1000.0, "mi": 1609.344}[unit]  # NIST SP 811
    for t_s in np.linspace(110.0, lone_drive.t_s[-1], 40).tolist():
        drawn_kwh = lone_drive.at(lone_drive.drawn_kwh, np.array([100.0, t_s]))
        driven_m = lone_drive.at(lone_drive.s_m, np.array([100.0, t_s])) * CAR_A.meter_ratio
        truth = {
            "trip_energy": drawn_kwh[1] - drawn_kwh[0],
            "trip_distance": (driven_m[1] - driven_m[0]) / metres,
            "soc": CAR_A.start_soc_pct - 100 * drawn_kwh[1] / CAR_A.usable_kwh,
            "odometer": (display.odometer_m + driven_m[1] + 700 * CAR_A.meter_ratio) / metres,
        }[quantity]
        shown = display.show(quantity, t_s)
        low = shown.value - (shown.resolution / 2 if shown.rounding == "nearest" else 0)
        assert low - 1e-9 <= truth <= low + shown.resolution + 1e-9
