"""Departures from the protocol."""

from dataclasses import replace

from measure.drive import START_S, fixes, oval, session
from measure.test_timeline import DELAY, RUN, tap

from ebbline.measure.analysis import analyze
from ebbline.records.evidence import Reading, Session
from ebbline.records.setup import Protocol


def said(run: Session, code: str) -> list[str]:
    return [f.message for f in analyze(run).result.findings if f.code == code]


def with_band(least_kmh: float, most_kmh: float) -> Session:
    """The run at 64.8 km/h under a protocol with this band."""
    return replace(RUN, protocol=Protocol(tap_delay=DELAY, speed_band_kmh=(least_kmh, most_kmh)))


def test_a_drive_inside_its_band_departs_from_nothing():
    assert said(with_band(50, 90), "outside_speed_band") == []


def test_driving_faster_than_the_band_is_told_with_how_long_and_how_fast():
    (message,) = said(with_band(30, 50), "outside_speed_band")
    assert "30 to 50 km/h" in message
    assert "s faster (at 65 km/h" in message
    assert "slower" not in message


def test_a_slow_drive_is_told_until_the_car_holds_back_by_itself():
    (message,) = said(with_band(80, 100), "outside_speed_band")
    assert "slower (at 65 km/h" in message
    capped = replace(with_band(80, 100), events=(*RUN.events, tap("power_limited", 10)))
    assert said(capped, "outside_speed_band") == []


def test_full_throttle_is_outside_any_band():
    floored = session(
        fixes(oval(300), seed=5),
        events=(tap("floored_on", 0), tap("floored_off", 299)),
        protocol=Protocol(tap_delay=DELAY, speed_band_kmh=(30, 50)),
    )
    assert said(floored, "outside_speed_band") == []


def first_shown(soc_pct: float) -> Session:
    stamp = round((START_S + 10) * 1000)
    return replace(
        RUN,
        protocol=Protocol(tap_delay=DELAY, start_soc_pct=5.0),
        readings=(Reading("soc-1", "phone", stamp, "soc", soc_pct, "%", 1.0), *RUN.readings),
    )


def test_a_start_as_planned_departs_from_nothing():
    assert said(first_shown(5.0), "other_start") == []


def test_another_start_than_planned_is_told():
    (message,) = said(first_shown(9.0), "other_start")
    assert "5 % shown; the first noted is 9 %" in message
