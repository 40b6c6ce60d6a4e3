"""Energy between display readings: inside what they allow, with an interval that holds."""

from dataclasses import astuple, replace

import numpy as np
import pytest
from measure.drive import START_S, Drive, fixes, on_a_straight, oval

from ebbline.measure.display import interval_of
from ebbline.measure.energy.bounds import energy_bounds, settle_contradictions
from ebbline.measure.energy.curve import fit_energy
from ebbline.measure.energy.expected import Supply, expected_energy, kinetic_sd_kwh
from ebbline.measure.motion.motion import Motion
from ebbline.measure.time.moments import Moment, TimedReading
from ebbline.measure.track.track import Track, build
from ebbline.records.evidence import Reading

RESET = Moment(START_S + 10, 0.1)


@pytest.fixture(scope="module")
def track() -> Track:
    return build(fixes(oval(650), seed=21))


def true_kwh(track: Track, at_s: float) -> float:
    """0.16 kWh/km and a little more for each start of a lap: our own invention."""
    along_km = float(np.interp(at_s, track.t_s, track.along_m)) / 1000
    return 0.16 * along_km + 0.01 * np.sin(np.pi * along_km)


def trip(track: Track, at_s: float, *, value: float | None = None, **parts) -> TimedReading:
    energy = true_kwh(track, at_s) - true_kwh(track, RESET.t_s)
    shown = round(energy, 1) if value is None else value
    reading = Reading(
        f"r{at_s - START_S:.0f}",
        "phone",
        round(at_s * 1000),
        parts.pop("quantity", "trip_energy"),
        shown,
        parts.pop("unit", "kWh"),
        parts.pop("resolution", 0.1),
        **parts,
    )
    return TimedReading(reading, Moment(at_s, 0.3))


def ours(from_s: float, to_s: float) -> tuple[float, float]:
    return 18.0 * (to_s - from_s), 5.0


def curve(track: Track, readings: list[TimedReading], resets=(RESET,)):
    evidence = energy_bounds(readings, list(resets), float(track.t_s[0]), ours)
    found = fit_energy(
        Motion.by_positions(track),
        evidence,
        expected_energy(Motion.by_positions(track), None, Supply()),
    )
    assert found is not None
    return found


def test_a_rounded_reading_bounds_the_truth_on_both_sides():
    """JCGM 100:2008, F.2.2.1: the indication X of a digital display stands for X ± δx/2."""
    reading = Reading("r", "d", 0, "trip_energy", 1.2, "kWh", 0.1)
    assert interval_of(reading) == pytest.approx((1.15, 1.25))


def test_a_display_that_cuts_bounds_it_from_below():
    reading = Reading("r", "d", 0, "trip_energy", 1.2, "kWh", 0.1, "down")
    assert interval_of(reading) == pytest.approx((1.2, 1.3))


def test_the_interval_holds_the_truth_between_readings(track):
    rng = np.random.default_rng(5)
    held, asked = 0, 0
    for _ in range(20):
        at = START_S + np.sort(rng.uniform(20, 640, 8))
        found = curve(track, [trip(track, moment) for moment in at])
        moments = [Moment(START_S + s, 0.0) for s in rng.uniform(60, 600, 5)]
        start = Moment(START_S + 200, 0.0)
        mean, sd = found.between(start, moments)
        truth = np.array([true_kwh(track, m.t_s) - true_kwh(track, start.t_s) for m in moments])
        held += int(np.sum(np.abs(mean - truth) < 1.96 * sd))
        asked += len(moments)
    assert held / asked >= 0.9


def test_more_readings_narrow_the_interval_and_their_absence_widens_it(track):
    few = curve(track, [trip(track, START_S + s) for s in (100.0, 600.0)])
    many = curve(track, [trip(track, START_S + s) for s in np.arange(60.0, 640, 40)])
    start, end = Moment(START_S + 200, 0.0), [Moment(START_S + 420, 0.0)]
    assert many.between(start, end)[1][0] < few.between(start, end)[1][0]
    beyond = [Moment(START_S + 640, 0.0)]
    short = curve(track, [trip(track, START_S + s) for s in (60.0, 120.0, 180.0, 240.0)])
    assert short.between(start, beyond)[1][0] > many.between(start, beyond)[1][0]


def test_mean_consumption_since_reset_is_finer_than_the_trip_display(track):
    """At 9 km a step of 0.1 kWh/100 km is 0.009 kWh where the trip display shows 0.1."""
    coarse = [trip(track, START_S + s) for s in (300.0, 500.0)]
    distance_m, _ = ours(RESET.t_s, START_S + 500)
    energy = true_kwh(track, START_S + 500) - true_kwh(track, RESET.t_s)
    mean = round(energy / distance_m * 1e5, 1)
    fine = trip(track, START_S + 500, value=mean, quantity="mean_consumption", unit="kWh/100km")
    end = [Moment(START_S + 500, 0.0)]
    _, sd_without = curve(track, coarse).between(RESET, end)
    found, sd = curve(track, [*coarse, fine]).between(RESET, end)
    assert sd[0] < 0.6 * sd_without[0]
    assert abs(found[0] - energy) < 2 * sd[0] + 0.002


def test_a_trip_that_ran_before_the_session_still_gives_differences(track):
    offset = [
        trip(track, START_S + s, value=7.3 + round(true_kwh(track, START_S + s), 1))
        for s in np.arange(60.0, 640, 60)
    ]
    found = curve(track, offset, resets=())
    mean, sd = found.between(Moment(START_S + 100, 0.0), [Moment(START_S + 600, 0.0)])
    truth = true_kwh(track, START_S + 600) - true_kwh(track, START_S + 100)
    assert abs(mean[0] - truth) < 2 * sd[0]
    assert sd[0] < 0.08


def test_readings_that_contradict_are_named_both(track):
    readings = [
        trip(track, START_S + 200, value=0.9),
        trip(track, START_S + 300, value=0.5),
        trip(track, START_S + 500),
    ]
    evidence = energy_bounds(readings, [RESET], float(track.t_s[0]), ours)
    settled, found = settle_contradictions(
        evidence, lambda from_s, to_s: (8e-4 * (to_s - from_s), 8e-4 * (to_s - from_s))
    )
    assert "readings_contradict" in {finding.code for finding in found}
    (said,) = (f for f in found if f.where == "readings r200 and r300")
    assert said.message.startswith(
        "“Trip energy” at 22:16:40 UTC says 0.85 to 0.95 kWh and “Trip energy” at 22:18:20 UTC"
    )
    before, after = evidence.bounds[0], settled.bounds[0]
    assert after.high_kwh - after.low_kwh > before.high_kwh - before.low_kwh + 0.4


@pytest.mark.parametrize("wrong", [0.2, 0.4, 5.0])
def test_contradicting_readings_leave_figures_with_a_wider_interval(track, wrong):
    """One reading typed wrong: the figures stay, as unsure as the two readings disagree."""
    at = np.arange(60.0, 640, 60)
    right = [trip(track, START_S + s) for s in at]
    mistaken = [*right[:5], trip(track, START_S + 360.5, value=wrong), *right[6:]]
    evidence = energy_bounds(mistaken, [RESET], float(track.t_s[0]), ours)
    motion = Motion.by_positions(track)
    expected = expected_energy(motion, None, Supply())
    settled, findings = settle_contradictions(evidence, expected.range_kwh)
    assert findings
    found = fit_energy(motion, settled, expected)
    assert found is not None
    start, end = Moment(START_S + 100, 0.0), [Moment(START_S + 600, 0.0)]
    mean, sd = found.between(start, end)
    truth = true_kwh(track, START_S + 600) - true_kwh(track, START_S + 100)
    assert abs(mean[0] - truth) < 2.5 * sd[0]
    assert sd[0] > 0.95 * curve(track, right).between(start, end)[1][0]


@pytest.fixture(scope="module")
def sparse() -> Track:
    """A fix every six seconds without speeds, of a car that gains 1 m/s² for 24 seconds."""
    drive = on_a_straight(np.clip(np.arange(300.0) - 30, 0, 24))
    every = Drive(*(column[::6] for column in astuple(drive)))
    return build(fixes(every, seed=5, doppler_mps=None, sigma_m=0.5, white_m=0.1))


def test_between_distant_fixes_the_expected_work_follows_the_speed(sparse):
    """Gaining 6 m/s in one step, a straight line would put its middle 2.7 Wh too high."""
    expected = expected_energy(Motion.by_positions(sparse), None, Supply())
    assert np.max(np.diff(expected.t_s)) <= 1.0
    kwh = expected.at(START_S + np.array([36.0, 39.0, 42.0]), expected.work_kwh)
    assert (kwh[0] + kwh[2]) / 2 - kwh[1] == pytest.approx(0.0027, abs=0.0008)


def test_once_comfort_is_cut_other_auxiliaries_are_expected(sparse):
    """As long as they draw, both may be further from the usual than the road load is."""
    motion = Motion.by_positions(sparse)
    whole, cut = (
        expected_energy(motion, None, Supply(comfort_until_s=START_S + until_s))
        for until_s in (1000.0, 180.0)
    )
    at = START_S + np.array([60.0, 180.0, 240.0])
    less = np.diff(whole.at(at, whole.work_kwh) - cut.at(at, cut.work_kwh))
    assert less == pytest.approx([0.0, 0.25 * 60 / 3600], abs=1e-6)
    assert np.diff(whole.asides_at(at)[:, 1:3], axis=0) == pytest.approx(
        np.array([[0.5 * 120, 0.0], [0.5 * 60, 0.0]]) / 3600
    )
    assert np.diff(cut.asides_at(at)[:, 1:3], axis=0) == pytest.approx(
        np.array([[0.5 * 120, 0.0], [0.0, 0.25 * 60]]) / 3600
    )


def test_what_strays_by_the_metre_does_so_at_walking_pace_too():
    """Two hundred seconds at 20 m/s, then as many at 5; beside it auxiliaries stray by the time."""
    speed = np.concatenate([np.full(200, 20.0), np.linspace(20.0, 5.0, 20), np.full(200, 5.0)])
    track = build(fixes(on_a_straight(speed), seed=3))
    expected = expected_energy(Motion.by_positions(track), None, Supply())
    at = START_S + np.array([20.0, 180.0, 240.0, 400.0])
    fast, _, slow = np.diff(expected.at(at, expected.walk_var_kwh2))
    fast_w, _, slow_w = np.diff(expected.at(at, expected.work_kwh))
    assert slow / fast > 0.25
    assert slow_w / fast_w < 0.25


def test_steps_of_days_are_told_finely_enough_by_a_few_moments(sparse):
    days = replace(sparse, t_s=START_S + 864_000.0 * np.arange(sparse.t_s.size))
    assert Motion.by_positions(days).finely().t_s.size < 100 * sparse.t_s.size


def test_energy_at_a_moment_is_as_unsure_as_the_motion_there(sparse):
    """The display bounds the drive to a Wh or two; what the car's motion holds is less sure."""
    finely = [
        trip(sparse, START_S + s, value=round(0.003 * s - 0.03, 3), resolution=0.001)
        for s in np.arange(60.0, 240.0, 3.0)
    ]
    found = curve(sparse, finely)
    at = [Moment(START_S + s, 0.0) for s in (100.0, 150.0)]
    own = kinetic_sd_kwh(found.motion, None, np.array([moment.t_s for moment in at]))
    _, sd = found.between(at[0], at)
    assert np.all(own > 0.001)
    assert sd[1] > np.hypot(*own)
    assert sd[0] < 1e-6


def test_no_readings_give_no_curve(track):
    evidence = energy_bounds([], [RESET], float(track.t_s[0]), ours)
    assert (
        fit_energy(
            Motion.by_positions(track),
            evidence,
            expected_energy(Motion.by_positions(track), None, Supply()),
        )
        is None
    )


def test_off_the_track_energy_is_unknown(track):
    found = curve(track, [trip(track, START_S + s) for s in (100.0, 600.0)])
    mean, _ = found.between(Moment(START_S + 100, 0.0), [Moment(START_S + 5000, 0.0)])
    assert np.isnan(mean[0])


def test_what_the_car_weighs_is_a_doubt_as_long_as_it_is_faster(sparse):
    """It stands, and comes to 24 m/s: half of m v², over the efficiency; it adds up to no more."""
    expected = expected_energy(Motion.by_positions(sparse), None, Supply())
    held_kwh = expected.asides_at(START_S + np.array([20.0, 150.0, 250.0]))[:, 3]
    usual_kwh = 1900 * 24.0**2 / 2 / 0.88 / 3.6e6
    assert held_kwh == pytest.approx([0.0, usual_kwh, usual_kwh], rel=0.03, abs=1e-4)
