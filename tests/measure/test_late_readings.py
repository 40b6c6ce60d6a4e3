"""How late readings were noted, told by the trip meter."""

import numpy as np
import pytest
from measure.drive import START_S, fixes, oval, trip_resets

from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.measure.track.track import build
from ebbline.measure.trip_meter.late_readings import shift_late_readings
from ebbline.records.evidence import Reading
from ebbline.records.setup import Protocol

DRIVE = oval(900)
RESET_S = 30.0


@pytest.fixture(scope="module")
def track():
    return build(fixes(DRIVE, seed=8))


def noted(late_s: np.ndarray, *, ratio: float = 1.006, photo: str | None = None):
    """Trip distances cut to 0.1 km, one every 40 s, each noted so much late."""
    readings = []
    for at_s, late in zip(np.arange(70.0, 870.0, 40.0), late_s, strict=True):
        shown_m = ratio * np.diff(np.interp([RESET_S, at_s], DRIVE.t_s, DRIVE.along_m))[0]
        reading = Reading(
            f"trip-{at_s:.0f}", "phone", round(1000 * (START_S + at_s + late)), "trip_distance",
            np.floor(shown_m / 100) / 10, "km", 0.1, "down", photo=photo,
        )  # fmt: skip
        readings.append(TimedReading(reading, Moment(START_S + at_s + late, 0.4)))
    return readings


RESETS = trip_resets(Moment(START_S + RESET_S, 0.4))


def test_readings_noted_at_once_stay_where_they_are(track):
    readings = noted(np.zeros(20))
    assert shift_late_readings(track, readings, RESETS, Protocol()) == (readings, [])


@pytest.mark.parametrize("seed", range(4))
def test_readings_noted_late_are_put_back_and_it_is_told(track, seed: int):
    late_s = np.random.default_rng(seed).uniform(0, 20, 20)
    moved, (finding,) = shift_late_readings(track, noted(late_s), RESETS, Protocol())
    assert finding.code == "readings_noted_late"
    back_s = _mean(moved, late_s)
    assert back_s == pytest.approx(late_s.mean(), abs=4)
    spread_s = moved[0].moment.sd_s
    assert 3 < spread_s < 11  # a rectangle of 20 s has a deviation of 5.8 s


def _mean(moved, late_s) -> float:
    stamped = [timed.reading.t_ms / 1000 for timed in moved]
    return float(np.mean([s - t.moment.t_s for s, t in zip(stamped, moved, strict=True)]))


def test_the_meters_own_scale_is_not_taken_for_lateness(track):
    for ratio in (0.98, 1.03):
        readings = noted(np.zeros(20), ratio=ratio)
        assert shift_late_readings(track, readings, RESETS, Protocol())[0] == readings


def test_a_reading_with_a_picture_has_the_pictures_time(track):
    late_s = np.full(20, 15.0)
    pictured = noted(late_s, photo="0" * 64)[:1]
    moved, _ = shift_late_readings(track, [*noted(late_s), *pictured], RESETS, Protocol())
    assert moved[-1] == pictured[0]
    assert moved[0].moment.t_s < noted(late_s)[0].moment.t_s - 10


def test_without_a_trip_reset_or_with_few_readings_nothing_is_moved(track):
    readings = noted(np.full(20, 15.0))
    assert shift_late_readings(track, readings, Events(), Protocol())[0] == readings
    assert shift_late_readings(track, readings[:5], RESETS, Protocol())[0] == readings[:5]
    assert shift_late_readings(None, readings, RESETS, Protocol())[0] == readings
