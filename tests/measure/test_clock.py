"""Stamps to moments."""

from dataclasses import replace

import numpy as np
import pytest

from ebbline.measure.time.clock import DeviceClock, find_parts
from ebbline.measure.time.moments import moment_of_reading, moment_of_tap
from ebbline.records.evidence import Breadcrumbs, Event, Reading
from ebbline.records.setup import Delay, Device, Protocol

START_MS = 1_700_000_000_000


def crumbs(t_s: np.ndarray, along_m: np.ndarray) -> Breadcrumbs:
    """Fixes due north from 10 N, one column of distances."""
    n = t_s.size
    unknown = np.full(n, np.nan)
    return Breadcrumbs(
        device="phone",
        seq=np.arange(n),
        t_ms=(START_MS + np.round(t_s * 1000)).astype(np.int64),
        lat=10.0 + along_m / 110_600,
        lon=np.full(n, 20.0),
        accuracy_m=unknown,
        speed_mps=unknown,
        heading_deg=unknown,
        altitude_m=unknown,
        page=np.full(n, ""),
        mono_ms=unknown,
    )


def test_a_tap_is_earlier_than_its_stamp_by_the_protocols_delay():
    event = Event("e", "phone", START_MS, "warning")
    clock = DeviceClock(Device("phone", clock_offset_ms=250, clock_offset_sd_ms=300))
    moment = moment_of_tap(event, clock, Protocol(tap_delay=Delay(0.8, 0.4)))
    assert moment.t_s == START_MS / 1000 + 0.25 - 0.8
    assert moment.sd_s == 0.5  # 0.3 and 0.4 in squares


def test_an_events_own_delay_wins_over_the_protocols():
    event = Event("e", "phone", START_MS, "warning", tap_delay=Delay(0.0, 0.1))
    moment = moment_of_tap(event, DeviceClock(Device("phone")), Protocol(tap_delay=Delay(2, 1)))
    assert (moment.t_s, moment.sd_s) == (START_MS / 1000, 0.1)


def test_a_reading_from_a_picture_has_the_pictures_time():
    reading = Reading("r", "phone", START_MS, "soc", 3, "%", photo="ab")
    moment = moment_of_reading(reading, DeviceClock(Device("phone")), Protocol())
    assert moment.t_s == START_MS / 1000


def test_a_clock_set_forward_while_driving_is_found_and_put_back():
    t_s = np.arange(60.0)
    stamped = np.where(t_s >= 30, t_s + 3600, t_s)
    parts = find_parts(crumbs(stamped, 15 * t_s))
    assert [part.from_seq for part in parts] == [0, 30]
    assert parts[1].shift_ms == -3_600_000


def test_a_clock_set_back_is_found_from_time_running_backwards():
    t_s = np.arange(60.0)
    parts = find_parts(crumbs(np.where(t_s >= 30, t_s - 7200, t_s), 15 * t_s))
    assert [round(part.shift_ms) for part in parts] == [0, 7_200_000]


def test_a_tap_after_the_clock_was_set_belongs_to_the_later_part():
    t_s = np.arange(60.0)
    parts = find_parts(crumbs(np.where(t_s >= 30, t_s + 3600, t_s), 15 * t_s))
    clock = DeviceClock(Device("phone"), parts)
    before, after = START_MS + 20_000, START_MS + 3_640_000
    assert clock.session_ms_of_tap(before) == before
    assert clock.session_ms_of_tap(after) == START_MS + 40_000
    assert clock.ambiguity_s(before) == clock.ambiguity_s(after) == 0


def test_a_stamp_that_a_clock_set_back_showed_twice_may_mean_either_moment():
    """Set back by 20 s at second 30: the stamps of seconds 10 to 30 come again."""
    t_s = np.arange(60.0)
    seen = crumbs(np.where(t_s >= 30, t_s - 20, t_s), 15 * t_s)
    clock = DeviceClock(Device("phone"), find_parts(seen))
    event = Event("e", "phone", START_MS + 15_000, "warning")
    moment = moment_of_tap(event, clock, Protocol(tap_delay=Delay(0.0, 0.4)))
    assert moment.t_s == START_MS / 1000 + 25  # between second 15 and second 35
    assert moment.sd_s == pytest.approx(np.hypot(0.4, 10.0))


def test_the_load_of_the_page_tells_which_of_two_moments_a_stamp_means():
    t_s = np.arange(60.0)
    page = np.where(t_s >= 30, "second load", "first load")
    seen = replace(crumbs(np.where(t_s >= 30, t_s - 20, t_s), 15 * t_s), page=page)
    clock = DeviceClock(Device("phone"), find_parts(seen))
    stamp = START_MS + 15_000
    assert clock.session_ms_of_tap(stamp, "first load") == stamp
    assert clock.session_ms_of_tap(stamp, "second load") == START_MS + 35_000
    assert clock.ambiguity_s(stamp, "second load") == 0
    assert clock.ambiguity_s(stamp, "a load without fixes") == 20


def test_a_long_pause_of_a_parked_car_stays_a_pause():
    t_s = np.concatenate([np.arange(30.0), 3630 + np.arange(30.0)])
    along_m = np.concatenate([np.zeros(30), 15 * np.arange(30.0)])
    assert len(find_parts(crumbs(t_s, along_m))) == 1


def test_a_gap_while_driving_stays_a_gap():
    t_s = np.concatenate([np.arange(30.0), 75 + np.arange(30.0)])
    assert len(find_parts(crumbs(t_s, 15 * t_s))) == 1


def gap_without_getting_on(mono_s: np.ndarray) -> Breadcrumbs:
    """45 s without fixes, after which the car is where an ordinary step would have brought it."""
    t_s = np.concatenate([np.arange(30.0), 75 + np.arange(30.0)])
    return replace(
        crumbs(t_s, 15 * np.arange(60.0)), page=np.full(60, "one load"), mono_ms=1000 * mono_s
    )


def test_a_gap_that_the_monotonic_clock_saw_as_well_is_no_setting_of_the_clock():
    mono_s = np.concatenate([np.arange(30.0), 75 + np.arange(30.0)])
    assert len(find_parts(gap_without_getting_on(mono_s))) == 1


def test_a_step_that_the_monotonic_clock_did_not_take_is_a_setting_of_the_clock():
    parts = find_parts(gap_without_getting_on(np.arange(60.0)))
    assert [part.shift_ms for part in parts] == [0, -45_000]


def test_a_fix_that_comes_two_seconds_late_is_no_setting_of_the_clock():
    t_s = np.arange(60.0)
    seen = crumbs(t_s, 15 * t_s)
    order = np.concatenate([np.arange(29), [30, 31, 29], np.arange(32, 60)])
    late = replace(seen, t_ms=seen.t_ms[order], lat=seen.lat[order])
    assert len(find_parts(late)) == 1


def test_a_gap_on_a_course_that_folds_back_is_no_setting_of_the_clock():
    """Out for a minute, and back past the same place: near, but heading the other way."""
    t_s = np.concatenate([np.arange(30.0), 75 + np.arange(30.0)])
    out_m = np.where(t_s < 40, 15 * t_s, 15 * 29 + 10 - 15 * (t_s - 75))
    assert len(find_parts(crumbs(t_s, out_m))) == 1
