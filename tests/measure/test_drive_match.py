"""Which device's track holds the drive, told by taps, trip readings and standstill."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import PLANE, START_S, fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.measure.time.moments import Events, Moment, TimedEvent, TimedReading
from ebbline.measure.track.drive_match import clock_shift_s, match, misses, told_of_drive
from ebbline.measure.track.fixes import Fixes
from ebbline.records.evidence import Breadcrumbs, Event, Reading, Session
from ebbline.records.setup import Delay, Device, Protocol

DRIVE = oval(900)
HOUR_S = 3600.0
TAPS = (
    ("trip_reset", 60), ("zero_soc", 62), ("warning", 200), ("floored_on", 300),
    ("floored_off", 330), ("warning", 500), ("lap_mark", 600), ("propulsion_off", 880),
)  # fmt: skip
EVENTS = tuple(
    Event(f"event-{k}", "phone", round(1000 * (START_S + at_s)), kind)
    for k, (kind, at_s) in enumerate(TAPS)
)
READINGS = tuple(
    Reading(f"trip-{at_s}", "phone", round(1000 * (START_S + at_s)), "trip_distance", value, "km")
    for at_s in range(120, 880, 120)
    for value in [round(float(np.interp(at_s, DRIVE.t_s, DRIVE.along_m) - 972) / 1000, 1)]
)
OFTEN = tuple(
    Reading(f"energy-{at_s}", "phone", round(1000 * (START_S + at_s)), "trip_energy", 0.1,
            "kWh")
    for at_s in range(130, 880, 10)
)  # fmt: skip
TOLD = told_of_drive(
    Events(TimedEvent(event, Moment(event.t_ms / 1000, 0.4)) for event in EVENTS),
    [TimedReading(reading, Moment(reading.t_ms / 1000, 0.4)) for reading in READINGS],
)


def parked_around(seen: Fixes, minutes: float) -> Fixes:
    """The same fixes with a parked car before and after, seen each second."""
    rng = np.random.default_rng(7)
    n = round(60 * minutes)

    def still(at: int, from_s: float) -> dict[str, np.ndarray]:
        east, north = (rng.normal(0, 0.3, n) for _ in range(2))
        x, y = PLANE.forward(seen.lat[[at]], seen.lon[[at]])
        lat, lon = PLANE.inverse(x + east, y + north)
        return {
            "t_s": from_s + np.arange(n),
            "lat": lat,
            "lon": lon,
            "sigma_m": np.full(n, 3.0),
            "speed_mps": np.zeros(n),
            "heading_deg": np.full(n, np.nan),
        }

    before, after = still(0, seen.t_s[0] - n), still(-1, seen.t_s[-1] + 1)
    columns = {
        name: np.concatenate([before[name], getattr(seen, name), after[name]]) for name in before
    }
    return Fixes(device=seen.device, **columns)


def moved(seen: Fixes, by_s: float, device: str = "recorder") -> Fixes:
    return replace(seen, t_s=seen.t_s + by_s, device=device)


def together(*tracks: Fixes) -> Session:
    """One session with these devices' fixes; its taps and readings are the phone's."""
    first = session(
        tracks[0], events=EVENTS, readings=READINGS, protocol=Protocol(tap_delay=Delay(0.0, 0.2))
    )
    crumbs: tuple[Breadcrumbs, ...] = tuple(
        entry for seen in tracks for entry in session(seen).breadcrumbs
    )
    devices = {"phone", *(seen.device for seen in tracks)}
    return replace(first, breadcrumbs=crumbs, devices=tuple(Device(name) for name in devices))


def codes(found) -> set[str]:
    return {finding.code for finding in found.findings}


def test_the_drives_own_track_bears_out_all_of_it():
    seen = fixes(DRIVE, seed=1)
    found = match(seen, TOLD)
    assert found.borne_out == found.of
    assert found.of >= len(TAPS) + len(READINGS)
    assert not misses(seen, TOLD)


@pytest.mark.parametrize("by_s", [HOUR_S, -HOUR_S, 5.5 * HOUR_S, 3 * 86_400.0, -86_400 + HOUR_S])
def test_a_clock_that_is_hours_or_days_off_is_named(by_s: float):
    seen = moved(parked_around(fixes(DRIVE, seed=2), 5), by_s)
    assert misses(seen, TOLD)
    assert clock_shift_s(seen, TOLD) == -by_s


def test_an_hour_off_among_fifty_parked_minutes_is_named_too():
    seen = moved(parked_around(fixes(DRIVE, seed=3), 50), -HOUR_S)
    assert clock_shift_s(seen, TOLD) == HOUR_S


def test_many_readings_within_the_parked_minutes_dont_hide_the_hour():
    """A moment that hours of parking hold as well says nothing of which hour it was."""
    whole = together(moved(parked_around(fixes(DRIVE, seed=14), 50), -HOUR_S))
    found = analyze(replace(whole, readings=READINGS + OFTEN)).result
    assert "track_misses_drive" in codes(found)
    assert found.reserve.basis in (None, "trip_meter")


def test_a_track_that_stood_while_the_trip_meter_ran_on_is_not_used():
    seen = parked_around(fixes(DRIVE, seed=15), 40)
    parked = moved(
        replace(seen, lat=np.full(seen.lat.size, seen.lat[0]),
                lon=np.full(seen.lon.size, seen.lon[0]), speed_mps=np.zeros(seen.t_s.size)), 0.0
    )  # fmt: skip
    assert misses(parked, TOLD)
    assert clock_shift_s(parked, TOLD) is None
    (told,) = [
        finding
        for finding in analyze(together(parked)).result.findings
        if finding.code == "track_misses_drive"
    ]
    assert "stood meanwhile" in told.message


def test_a_track_of_another_time_gives_no_figure_and_the_trip_meter_serves():
    found = analyze(together(moved(parked_around(fixes(DRIVE, seed=4), 5), -HOUR_S))).result
    assert found.distance.polyline_m is None
    assert "positions" not in found.distance.method
    assert found.reserve.basis in (None, "trip_meter")
    (told,) = [finding for finding in found.findings if finding.code == "track_misses_drive"]
    assert "1 h behind" in told.message
    assert "+3600 s" in told.message


@pytest.mark.parametrize("minutes", [5, 50])
def test_an_import_of_another_hour_does_not_displace_the_phones_track(minutes: float):
    own = fixes(DRIVE, seed=5)
    other = moved(parked_around(fixes(DRIVE, seed=6), minutes), -HOUR_S)
    alone, both = (analyze(together(*tracks)).result for tracks in ((own,), (own, other)))
    assert both.reserve.distance_m == alone.reserve.distance_m
    assert "track_misses_drive" in codes(both)


def test_shown_speeds_lead_before_a_longer_track_without_them():
    own = fixes(DRIVE, seed=8)
    longer = moved(parked_around(fixes(DRIVE, seed=9, doppler_mps=None), 10), 0.0)
    longer.speed_mps[:] = np.nan
    alone, both = (analyze(together(*tracks)).result for tracks in ((own,), (own, longer)))
    assert both.distance.method == alone.distance.method


def test_a_phone_that_fell_asleep_halfway_still_holds_the_drive():
    seen = fixes(DRIVE, seed=10)
    half = replace(
        seen,
        **{
            name: getattr(seen, name)[:300]
            for name in ("t_s", "lat", "lon", "sigma_m", "speed_mps", "heading_deg")
        },
    )
    assert not misses(half, TOLD)


def test_what_falls_into_a_gap_says_nothing_against_the_track():
    """Nearly all taps and trip readings that tell of moving, where the page was hidden."""
    seen = fixes(DRIVE, seed=16)
    outside = (seen.t_s < START_S + 60) | (seen.t_s > START_S + 800)
    gapped = replace(
        seen,
        **{
            name: getattr(seen, name)[outside]
            for name in ("t_s", "lat", "lon", "sigma_m", "speed_mps", "heading_deg")
        },
    )
    found = analyze(replace(together(gapped), readings=READINGS + OFTEN)).result
    assert "track_misses_drive" not in codes(found)
    assert "gaps_by_trip_meter" in codes(found)


def test_a_track_of_another_length_is_asked_about():
    own = fixes(DRIVE, seed=11)
    half = replace(DRIVE, position_m=DRIVE.position_m / 2, velocity_mps=DRIVE.velocity_mps / 2)
    other = moved(fixes(half, seed=12), 0.0)
    found = analyze(together(own, other)).result
    (told,) = [finding for finding in found.findings if finding.code == "tracks_differ"]
    assert "recorder" in told.message


def test_two_taps_tell_too_little_to_refuse_a_track():
    few = told_of_drive(
        Events(TimedEvent(event, Moment(event.t_ms / 1000, 0.4)) for event in EVENTS[:2]), []
    )
    assert not misses(moved(fixes(DRIVE, seed=13), HOUR_S), few)
