"""The car's trip meter against our distance."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import START_S, fixes, oval, trip_resets

from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.measure.track.track import build
from ebbline.measure.trip_meter.comparison import compare_trip
from ebbline.records.evidence import Reading

DRIVE = oval(900)
RESET_S = 30.0
RATIO = 1.006


@pytest.fixture(scope="module")
def track():
    return build(fixes(DRIVE, seed=8))


def readings(rng: np.random.Generator, *, noted_sd_s: float = 0.4) -> list[TimedReading]:
    """Trip distances cut to 0.1 km, one about every 80 s, noted a little early or late."""
    found = []
    for at_s in np.arange(70.0, 870.0, 80.0) + rng.uniform(0, 40, 10):
        shown_m = RATIO * np.diff(np.interp([RESET_S, at_s], DRIVE.t_s, DRIVE.along_m))[0]
        noted_s = START_S + at_s + noted_sd_s * rng.standard_normal()
        reading = Reading(
            f"trip-{at_s:.3f}", "phone", round(1000 * noted_s), "trip_distance",
            np.floor(shown_m / 100) / 10, "km", 0.1, "down",
        )  # fmt: skip
        found.append(TimedReading(reading, Moment(noted_s, noted_sd_s)))
    return found


@pytest.mark.parametrize("reset_sd_s", [0.4, 3.0])
def test_the_ratio_is_as_sure_as_it_says(track, reset_sd_s: float):
    """The reset is one tap for all readings: its error doesn't average out over them."""
    rng = np.random.default_rng(31)
    off = []
    for _ in range(150):
        reset = Moment(START_S + RESET_S + reset_sd_s * rng.standard_normal(), reset_sd_s)
        meter, _ = compare_trip(track, None, readings(rng), trip_resets(reset))
        assert meter.compared
        off.append((meter.ratio - RATIO) / meter.sd)
    assert 0.8 < np.sqrt(np.mean(np.square(off))) < 1.15


def test_a_meter_that_ran_before_is_compared_by_its_differences(track):
    rng = np.random.default_rng(32)
    meter, _ = compare_trip(track, None, readings(rng), Events())
    assert abs(meter.ratio - RATIO) < 3 * meter.sd
    assert meter.sd < 0.01


def test_a_display_said_to_show_every_atom_breaks_nothing(track):
    """Twice the same figure, parked and without any doubt of its own."""
    fine = [
        TimedReading(replace(timed.reading, resolution=1e-12), Moment(timed.moment.t_s, 0.0))
        for timed in readings(np.random.default_rng(34))
    ]
    reset = Moment(START_S + RESET_S, 0.0)
    meter, _ = compare_trip(track, None, [*fine, *fine], trip_resets(reset))
    assert meter.ratio == pytest.approx(RATIO, abs=0.02)


def test_readings_at_one_place_compare_nothing(track):
    one = readings(np.random.default_rng(33))[:1]
    meter, findings = compare_trip(track, None, one, Events())
    assert not meter.compared
    assert not findings
    assert meter.check() is None
