"""The way by the car's own meter: how long it drove, what the meter bounds, the curve through it.

All by hand: a car at 10 m/s whose meter is reset at 0 s and shows 10.0 km at 1,000 s.
"""

import math

import numpy as np
import pytest
from measure.drive import START_S, fixes, on_a_straight
from measure.moments import noted, taps

from ebbline.measure.motion.driving_time import DrivingTime, driving_time
from ebbline.measure.motion.trip_bounds import TripBound, trip_bounds
from ebbline.measure.motion.trip_curve import USUAL_PACE_MPS, Positions, TripCurve, trip_curve
from ebbline.measure.track.track import build
from ebbline.records.arrays import FloatArray
from ebbline.records.result import Finding


def driven(*each, to_s: float = 200.0, known: tuple[float, float] | None = None) -> DrivingTime:
    whole = None if known is None else (START_S + known[0], START_S + known[1])
    return driving_time(taps(*each), START_S, START_S + to_s, whole)


OFF, STILL = ("propulsion_off", 40.0), ("standstill", 60.0)


@pytest.mark.parametrize(
    ("each", "seconds"),
    [
        ((), 200),
        ((OFF, STILL), 40 + 20 / 2),  # rolling out evenly it has half its pace in the mean
        ((OFF,), 40 + 90 / 2),  # no standstill noted: it rolls for 90 s
        ((OFF, STILL, ("restart", 80.0, "Succeeded")), 40 + 10 + 120),
        ((OFF, STILL, ("restart", 80.0, "failed")), 40 + 10),
        ((OFF, ("propulsion_off", 100.0), ("standstill", 120.0)), 100 + 10),  # no restart between
        ((("plug_in", 30.0),), 30),
        ((("standstill", 60.0), ("contactors_open", 80.0)), 60),
        ((("contactors_open", 80.0),), 80),
    ],
)
def test_a_car_drives_until_taps_say_otherwise(each, seconds):
    assert driven(*each).at(np.array([START_S + 200]))[0] == pytest.approx(seconds)


def test_no_time_counts_where_positions_tell_the_way():
    found = driven(known=(20.0, 50.0))
    assert found.at(START_S + np.array([20, 50, 100.0])) == pytest.approx([20, 20, 70])


def test_rolling_out_the_pace_falls_to_nothing():
    rate = driven(OFF, STILL).rate(START_S + np.array([20, 51, 100.0]))
    assert rate == pytest.approx([1, 0.45, 0])


# --- what the meter bounds ------------------------------------------------------------------------


def bounds_of(readings, *each) -> tuple[list[tuple[float, float]], set[str]]:
    bounds, findings = trip_bounds(taps(*each), readings)
    return [(bound.low_m, bound.high_m) for bound in bounds], {f.code for f in findings}


RESET = ("trip_reset", 0.0)


def test_a_reading_bounds_the_way_since_the_reset_by_its_rounding():
    """JCGM 100:2008, F.2.2.1: ± half a step; a mile is 1609.344 m (NIST SP 811)."""
    found, codes = bounds_of([noted("trip_distance", 100, 3.3, "mi")], RESET)
    assert found == [pytest.approx((3.25 * 1609.344, 3.35 * 1609.344))]
    assert codes == set()


def test_an_odometer_counts_from_its_first_reading_and_says_nothing_alone():
    first, later = (
        noted("odometer", at, km, "km", 1.0) for at, km in ((0, 12000.0), (200, 12003.0))
    )
    assert bounds_of([later, first])[0] == [(-500, 500), (2500, 3500)]
    assert bounds_of([first])[0] == []


def test_two_readings_that_contradict_are_both_widened_by_as_much():
    """5.0 km, then 4.0: at the least 4,950 after 4,050, less 1 m: 899 m that can't be."""
    found, codes = bounds_of(
        [noted("trip_distance", 100, 5.0, "km"), noted("trip_distance", 200, 4.0, "km")], RESET
    )
    assert found == [
        pytest.approx((4950 - 899, 5050 + 899)),
        pytest.approx((3950 - 899, 4050 + 899)),
    ]
    assert codes == {"trip_readings_contradict"}


def test_a_reading_that_two_others_contradict_is_set_aside():
    """12 km after 1 km within 100 s is 110 m/s; and 2 km can't follow 12."""
    readings = [
        noted("trip_distance", at, km, "km") for at, km in ((100, 1.0), (200, 12.0), (300, 2.0))
    ]
    found, codes = bounds_of(readings, RESET)
    assert found == [pytest.approx((950, 1050)), pytest.approx((1950, 2050))]
    assert codes == {"trip_readings_contradict"}


# --- the curve through it -------------------------------------------------------------------------


def curve(*readings: tuple[float, float], to_s: float = 2000.0) -> TripCurve:
    bounds, _ = trip_bounds(
        taps(RESET), [noted("trip_distance", at, km, "km") for at, km in readings]
    )
    return trip_curve(bounds, driven(to_s=to_s), None)


def way(found: TripCurve, *at_s: float) -> tuple[FloatArray, FloatArray]:
    mean_m, covariance = found.beyond(START_S + np.array(at_s))
    return mean_m, np.sqrt(np.diag(covariance))


def test_between_reset_and_reading_the_car_keeps_its_pace():
    found = curve((1000.0, 10.0))
    assert found.pace_mps == pytest.approx(10)
    mean_m, _ = way(found, 500, 1000)
    assert mean_m == pytest.approx([5000, 10000], rel=1e-3)


def test_at_the_reading_the_way_is_as_unsure_as_the_meter_and_its_rounding():
    """1.5 % of 10 km, a rectangle of ± 50 m, and 10 m/s over two taps of 0.4 s."""
    _, sd_m = way(curve((1000.0, 10.0)), 500, 1000)
    by_hand_m = math.hypot(150, 50 / math.sqrt(3), 4, 4)
    assert sd_m[1] == pytest.approx(by_hand_m, rel=0.02)
    assert sd_m[0] > 2 * sd_m[1]  # half-way nobody looked


def test_the_way_is_told_for_five_minutes_of_driving_beyond_the_readings():
    covered = curve((1000.0, 10.0)).covers(START_S + np.array([-1, 0, 1300, 1301.0]))
    assert covered.tolist() == [False, True, True, False]


def test_without_a_reading_only_the_time_driven_is_known():
    found = trip_curve([], driven(), None)
    assert (found.process, found.pace_mps) == (None, USUAL_PACE_MPS)
    assert not found.covers(START_S + np.arange(0, 200, 10.0)).any()


def test_beyond_positions_the_meter_adds_what_they_do_not_hold():
    """16 m/s for 300 s by positions (4,704 m with the start), and 12.0 km shown at 1,000 s."""
    drive = on_a_straight(np.concatenate([np.linspace(0, 16, 13), np.full(288, 16.0)]))
    track = build(fixes(drive, seed=1))
    bounds, _ = trip_bounds(taps(RESET), [noted("trip_distance", 1000, 12.0, "km")])
    driving = driven(to_s=1000.0, known=(0.0, 300.0))
    found = trip_curve(bounds, driving, Positions(track, None))
    assert drive.along_m[-1] == pytest.approx(4704)
    assert found.pace_mps == pytest.approx((12000 - 4704) / 700, rel=1e-3)
    mean_m, _ = way(found, 200, 1000)
    assert mean_m == pytest.approx([0, 12000 - 4704], abs=25)
    held = Positions(track, None).distances(START_S + np.array([300.0, 900.0]))
    assert held.between(0, 1)[0] == pytest.approx(0, abs=0.5)


def test_a_bound_names_its_reading_and_middle():
    (bound,), _ = trip_bounds(taps(RESET), [noted("trip_distance", 100, 3.3, "km")])
    assert isinstance(bound, TripBound)
    assert bound.middle_m == pytest.approx(3300)
    assert "at 22:15:00 UTC" in Finding("note", "any", bound.named(), "readings").message
