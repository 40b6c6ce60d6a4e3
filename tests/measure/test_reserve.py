"""The reserve between its two moments, and the balance, where hands can work them out."""

import math

import pytest
from measure.drive import START_S as T_S
from measure.moments import taps

from ebbline.measure.balance import balance_of
from ebbline.measure.consumption import consumption_of
from ebbline.measure.distance import distance_of
from ebbline.measure.lap_table import lap_entries
from ebbline.measure.laps.course import CourseLaps, compare_laps
from ebbline.measure.recharge.soc_energy import SocStep, soc_steps
from ebbline.measure.reserve.ladder import entries_of
from ebbline.measure.reserve.reserve import reserve_of, zero_of
from ebbline.measure.reserve.span import find_span
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment, TimedReading
from ebbline.records.evidence import Reading
from ebbline.records.setup import Course, Pack, Protocol

DRIVEN = taps(("zero_soc", 0.0), ("warning", 60.0), ("propulsion_off", 600.0))


def test_without_distance_and_energy_the_reserve_still_has_its_time():
    run = Run(DRIVEN, None, None)
    span, _ = find_span(DRIVEN, Protocol())
    found = reserve_of(run, span, Pack(usable_kwh=58.0))
    assert found.duration_s is not None
    assert found.duration_s.value == 600.0
    half_s = 1.959964 * math.hypot(0.4, 0.4)
    assert found.duration_s.high - found.duration_s.value == pytest.approx(half_s, rel=1e-4)
    assert (found.distance_m, found.energy_kwh, found.share_of_usable_pct) == (None, None, None)
    assert found.ends_at == "propulsion_off"


def test_a_car_that_shut_down_before_zero_has_no_reserve():
    early = taps(("propulsion_off", 10.0), ("zero_soc", 30.0))
    span, findings = find_span(early, Protocol())
    assert span.shut_down_before_zero
    assert reserve_of(Run(early, None, None), span, Pack()).duration_s is None
    assert "shut_down_before_zero" in {finding.code for finding in findings}


def test_a_car_that_only_stood_before_zero_has_not_shut_down():
    """The drive may have been broken off; that it shut down is said where somebody says so."""
    stood = taps(("standstill", 10.0))
    for events in (stood, taps(("standstill", 10.0), ("zero_soc", 30.0))):
        span, findings = find_span(events, Protocol())
        assert not span.shut_down_before_zero
        assert span.end is None
        assert "stood_before_zero" in {finding.code for finding in findings}
    span, findings = find_span(stood, Protocol(reserve_end="standstill"))
    assert span.shut_down_before_zero
    assert "stood_before_zero" not in {finding.code for finding in findings}


def test_zero_names_its_basis_and_moment():
    span, _ = find_span(DRIVEN, Protocol())
    found = zero_of(Run(DRIVEN, None, None), span, Protocol())
    assert (found.basis, found.t_ms) == ("zero_soc", round(T_S * 1000))
    assert (found.trip_reset_after_m, found.zero_range_after_m) == (None, None)


def test_the_ladder_holds_every_event_at_its_moment():
    span, _ = find_span(DRIVEN, Protocol())
    entries, findings = entries_of(Run(DRIVEN, None, None), span)
    assert [entry.kind for entry in entries] == ["zero_soc", "warning", "propulsion_off"]
    assert [entry.at_ms.value / 1000 - T_S for entry in entries] == [0.0, 60.0, 600.0]
    assert findings == []


def test_what_needs_a_track_says_nothing_without_one():
    run = Run(DRIVEN, None, None)
    span, _ = find_span(DRIVEN, Protocol())
    assert lap_entries(run, None) == ()
    found, findings = compare_laps(None, Course(surveyed_lap_m=2400.0))
    assert found == CourseLaps() or (found.found, found.check, found.ruler) == (None, None, None)
    assert findings == []
    assert distance_of(None).total_m is None
    assert consumption_of(run, reserve_of(run, span, Pack()), None).past_zero_wh_per_km is None
    assert balance_of(run, span, None) == (None, [])


def test_a_per_cent_noted_late_came_between_the_note_before_and_this_one():
    noted = [
        TimedReading(
            Reading(f"soc-{value}", "phone", round(1000 * (T_S + at_s)), "soc", value, "%"),
            Moment(T_S + at_s, 0.5),
        )
        for at_s, value in ((900.0, 0.0), (1000.0, 1.0), (1200.0, 2.0))
    ]
    found = soc_steps(DRIVEN, noted, T_S + 800.0)
    assert found == [
        SocStep(1.0, T_S + 900.0, T_S + 1000.0, 0.5),
        SocStep(2.0, T_S + 1000.0, T_S + 1200.0, 0.5),
    ]


def test_a_per_cent_tapped_at_its_change_came_then():
    stepped = taps(("zero_soc", 0.0), ("soc_step", 1000.0, 1.0))
    (found,) = soc_steps(stepped, [], T_S + 800.0)
    assert (found.after_s, found.by_s) == (T_S + 1000.0, T_S + 1000.0)
