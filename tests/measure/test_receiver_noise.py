"""The receiver's noise by its own claim and its own fixes; speeds freed of what noise adds."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import START_S, fixes, oval

from ebbline.measure.time.moments import Moment, TimedReading
from ebbline.measure.track.receiver_noise import USUAL_DOPPLER_MPS, USUAL_SIGMA_M, starting_model
from ebbline.measure.track.same_car import in_reach
from ebbline.measure.track.track import build
from ebbline.measure.trip_meter.readings import in_metres, on_track
from ebbline.records.evidence import Reading

DRIVE = oval(300)


@pytest.mark.parametrize("doppler_mps", [0.05, 0.1, 0.3])
def test_the_noise_of_shown_speeds_is_read_off_their_second_differences(doppler_mps: float):
    found = starting_model(fixes(DRIVE, seed=3, doppler_mps=doppler_mps)).doppler_mps
    assert found == pytest.approx(doppler_mps, rel=0.35)


def test_without_claim_or_speeds_the_usual_values_stand():
    seen = fixes(DRIVE, seed=4, doppler_mps=None)
    model = starting_model(replace(seen, sigma_m=np.full(seen.t_s.size, np.nan)))
    assert model.drift_m == USUAL_SIGMA_M
    assert model.doppler_mps == USUAL_DOPPLER_MPS


def test_a_claim_beyond_reason_is_held_to_thirty_metres():
    seen = fixes(DRIVE, seed=5)
    assert starting_model(replace(seen, sigma_m=np.full(seen.t_s.size, 500.0))).drift_m == 30.0


def reading(at_s: float, value: float, unit: str = "km") -> TimedReading:
    record = Reading(
        "r", "phone", round(1000 * (START_S + at_s)), "trip_distance", value, unit, 0.1
    )
    return TimedReading(record, Moment(START_S + at_s, 0.5))


def test_a_trip_reading_in_miles_is_exact_metres_with_its_rounding():
    """The mile is 1609.344 m (NIST SP 811); rounding to 0.1 is 0.1/sqrt(12) (GUM F.2.2.1)."""
    track = build(fixes(DRIVE, seed=6))
    found = in_metres(track, [reading(100.0, 1.0, "mi")])
    assert found.shown_m[0] == pytest.approx(1609.344)
    assert found.rounding_sd_m[0] == pytest.approx(160.9344 / np.sqrt(12))
    assert found.sd_m()[0] == pytest.approx(
        np.hypot(found.rounding_sd_m[0], 0.5 * found.speed_mps[0])
    )


def test_only_trip_distances_on_the_track_are_compared():
    track = build(fixes(DRIVE, seed=7))
    energy = replace(reading(100.0, 1.0).reading, quantity="trip_energy", unit="kWh")
    rows = [reading(100.0, 1.0), reading(9000.0, 2.0), TimedReading(energy, Moment(START_S, 0.5))]
    assert on_track(track, rows) == rows[:1]


def test_a_fix_a_car_could_not_have_reached_is_out_of_reach():
    leader = fixes(DRIVE, seed=8)
    keep = np.r_[0:100, 160:300]
    names = ("t_s", "lat", "lon", "sigma_m", "speed_mps", "heading_deg")
    thinned = replace(leader, **{name: getattr(leader, name)[keep] for name in names})
    track = build(thinned)
    near = replace(fixes(DRIVE, seed=9), device="other")
    far = replace(near, lat=near.lat + 0.2)  # 22 km
    inside = np.zeros(near.t_s.size, dtype=bool)
    inside[110:150] = True
    assert np.array_equal(in_reach(near, inside, track, thinned, 0.0)[0], inside)
    reached, off_m = in_reach(far, inside, track, thinned, 0.0)
    assert not np.any(reached)
    assert np.all(off_m[inside] > 20_000)
