"""A whole session through the core: figures, findings, and what must change nothing."""

from dataclasses import replace

import numpy as np
import pytest
from measure.drive import START_S, fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.records.evidence import Breadcrumbs, Event, Exclusion, Reading, Session
from ebbline.records.result import Quantity
from ebbline.records.setup import Course, Delay, Device, Pack, Protocol, RoadLoad, Vehicle

DRIVE = oval(600)
SEEN = fixes(DRIVE, seed=31)
DELAY = Delay(0.9, 0.4)


def tap(kind: str, at_s: float, name: str | None = None, **parts) -> Event:
    """A tap made 0.9 s after ``at_s``."""
    stamp = round((START_S + at_s + DELAY.mean_s) * 1000)
    return Event(name or f"{kind}-{at_s:g}", "phone", stamp, kind, **parts)


def trip(at_s: float) -> Reading:
    kwh = 0.15 * float(np.interp(at_s, DRIVE.t_s, DRIVE.along_m) - DRIVE.along_m[20]) / 1000
    stamp = round((START_S + at_s + DELAY.mean_s) * 1000)
    return Reading(f"trip-{at_s:g}", "phone", stamp, "trip_energy", round(kwh, 1), "kWh", 0.1)


EVENTS = (
    tap("trip_reset", 20),
    tap("warning", 150, warning_class="charge_now"),
    tap("zero_soc", 250),
    tap("zero_range", 280),
    tap("floored_on", 400),
    tap("floored_off", 430),
    tap("propulsion_off", 560),
)
READINGS = tuple(trip(s) for s in range(40, 600, 40))
RUN = session(
    SEEN,
    events=EVENTS,
    readings=READINGS,
    vehicle=Vehicle(pack=Pack(58.0)),
    protocol=Protocol(tap_delay=DELAY),
    course=Course(closed=True),
)


def codes(found) -> set[str]:
    return {finding.code for finding in found.findings}


def holds(figure: Quantity | None, truth: float) -> bool:
    return figure is not None and figure.low <= truth <= figure.high


@pytest.fixture(scope="module")
def result():
    return analyze(RUN).result


def test_the_reserve_holds_the_truth(result):
    assert result.zero.basis == "zero_soc"
    assert result.reserve.ends_at == "propulsion_off"
    assert holds(result.reserve.distance_m, 18.0 * 310)
    assert holds(result.reserve.duration_s, 310.0)
    assert holds(result.reserve.energy_kwh, 0.15 * 5.58)
    assert holds(result.reserve.share_of_usable_pct, 100 * 0.15 * 5.58 / 58)
    assert holds(result.zero.zero_range_after_m, 18.0 * 30)
    assert holds(result.zero.trip_reset_after_m, -18.0 * 230)


def test_a_taps_own_spread_dominates_its_distance(result):
    """0.4 s at 18 m/s, for zero and for the event: 7.2 m each, 1-sigma."""
    warning = next(entry for entry in result.timeline if entry.kind == "warning")
    half_m = (warning.past_zero_m.high - warning.past_zero_m.low) / 2
    assert half_m == pytest.approx(1.96 * 7.2 * np.sqrt(2), rel=0.15)
    assert holds(warning.past_zero_m, -1800.0)
    assert holds(warning.left_m, 18.0 * 410)


def test_entries_come_in_order_and_keep_the_tap_as_recorded(result):
    moments = [entry.at_ms.value for entry in result.timeline]
    assert moments == sorted(moments)
    assert [entry.event_id for entry in result.timeline] == [event.id for event in EVENTS]
    assert result.timeline[0].t_ms == EVENTS[0].t_ms
    assert result.timeline[0].at_ms.value == pytest.approx(EVENTS[0].t_ms - 900)


def test_a_warnings_class_stands_in_its_entry(result):
    classes = {entry.kind: entry.warning_class for entry in result.timeline}
    assert classes.pop("warning") == "charge_now"
    assert set(classes.values()) == {None}


def test_the_end_has_nothing_left(result):
    end = result.timeline[-1]
    assert end.left_m == Quantity(0.0, 0.0, 0.0)
    assert end.left_kwh == Quantity(0.0, 0.0, 0.0)


def test_the_plateau_at_full_throttle_is_the_speed_held(result):
    (limit,) = result.limits
    assert holds(limit.speed_mps, 18.0)
    assert limit.road_load_kw is None
    assert "no_road_load" in codes(result)


def test_the_same_evidence_gives_the_same_result(result):
    assert analyze(RUN).result == result


@pytest.mark.parametrize("hours", [-7, 30_000])
def test_shifting_all_clocks_changes_nothing_but_the_times(result, hours):
    shift = hours * 3_600_000
    (crumbs,) = RUN.breadcrumbs
    moved = replace(
        RUN,
        breadcrumbs=(replace(crumbs, t_ms=crumbs.t_ms + shift),),
        events=tuple(replace(e, t_ms=e.t_ms + shift) for e in RUN.events),
        readings=tuple(replace(r, t_ms=r.t_ms + shift) for r in RUN.readings),
    )
    found = analyze(moved).result
    assert found.reserve.distance_m.value == pytest.approx(
        result.reserve.distance_m.value, abs=0.05
    )
    assert found.reserve.energy_kwh.value == pytest.approx(
        result.reserve.energy_kwh.value, abs=1e-4
    )


def test_splitting_and_repeating_batches_changes_nothing(result):
    (crumbs,) = RUN.breadcrumbs

    def part(first: int, last: int) -> Breadcrumbs:
        names = [name for name in Breadcrumbs.__slots__ if name != "device"]
        return Breadcrumbs("phone", *(getattr(crumbs, name)[first:last] for name in names))

    split = replace(RUN, breadcrumbs=(part(300, 600), part(0, 350), part(100, 200)))
    assert analyze(split).result == result


def test_reordering_events_and_readings_changes_nothing(result):
    turned = replace(RUN, events=RUN.events[::-1], readings=RUN.readings[::-1])
    assert analyze(turned).result == result


def test_a_correction_replaces_and_a_withdrawal_removes():
    moved = tap("zero_soc", 260, "better", corrects="zero_soc-250")
    gone = tap("note", 440, "undo", corrects="warning-150", withdraws=True)
    found = analyze(replace(RUN, events=(*EVENTS, moved, gone))).result
    kinds = [entry.kind for entry in found.timeline]
    assert "warning" not in kinds
    assert "note" not in kinds
    assert kinds.count("zero_soc") == 1
    assert holds(found.reserve.distance_m, 18.0 * 300)


def test_two_corrections_of_one_record_are_told():
    first = tap("zero_soc", 260, "one", corrects="zero_soc-250")
    second = tap("zero_soc", 270, "two", corrects="zero_soc-250")
    found = analyze(replace(RUN, events=(*EVENTS, first, second))).result
    (said,) = (f for f in found.findings if f.code == "corrected_twice")
    assert said.message.startswith("“0 % shown” at 22:17:41 UTC and “0 % shown” at 22:17:51 UTC")
    assert said.where == "record zero_soc-250, corrected by one and by two"
    assert holds(found.reserve.duration_s, 290.0)


def test_two_taps_of_one_zero_are_told_and_the_first_counts():
    again = tap("zero_soc", 300, "again")
    found = analyze(replace(RUN, events=(*EVENTS, again))).result
    (said,) = (f for f in found.findings if f.code == "zero_tapped_again")
    assert said.severity == "doubt"
    assert said.message == (
        "“0 % shown” was tapped again 50 s later. The first counts, at 22:17:30 UTC; the one at "
        "22:18:20 UTC does not."
    )
    assert said.where == "events zero_soc-250 (counts) and again"
    assert holds(found.reserve.duration_s, 310.0)


def test_two_people_who_tap_the_same_zero_are_a_note():
    again = tap("zero_soc", 251, "again")
    found = analyze(replace(RUN, events=(*EVENTS, again))).result
    (said,) = (f for f in found.findings if f.code == "zero_tapped_again")
    assert said.severity == "note"


def test_a_step_to_nought_per_cent_is_the_zero(result):
    stepped = tap("soc_step", 250, "zero_soc-250", value=0.0, unit="%")
    events = tuple(stepped if event.kind == "zero_soc" else event for event in EVENTS)
    assert analyze(replace(RUN, events=events)).result == result


def test_the_protocols_zero_basis_wins():
    by_range = replace(RUN, protocol=replace(RUN.protocol, zero_basis="zero_range"))
    found = analyze(by_range).result
    assert found.zero.basis == "zero_range"
    assert holds(found.reserve.duration_s, 280.0)


def test_a_car_that_shuts_down_before_zero_has_no_reserve():
    early = tuple(event for event in EVENTS if not event.kind.startswith("zero"))
    found = analyze(replace(RUN, events=early)).result
    assert found.reserve.shut_down_before_zero
    assert found.reserve.distance_m is None
    assert found.zero.basis is None
    assert "shut_down_before_zero" in codes(found)
    warning = next(entry for entry in found.timeline if entry.kind == "warning")
    assert holds(warning.left_m, 18.0 * 410)
    assert warning.past_zero_m is None


def test_zero_shown_only_after_shut_down_is_no_reserve_either():
    late = (*(e for e in EVENTS if not e.kind.startswith("zero")), tap("zero_soc", 580))
    found = analyze(replace(RUN, events=late)).result
    assert found.reserve.shut_down_before_zero
    assert found.reserve.distance_m is None


def test_without_positions_and_trip_distance_what_needs_them_is_null_and_said():
    """The trip's energy needs no distance: 0.15 kWh/km over 5.58 km."""
    found = analyze(replace(RUN, breadcrumbs=())).result
    assert found.distance.total_m is None
    assert found.reserve.distance_m is None
    assert found.reserve.basis is None
    assert holds(found.reserve.energy_kwh, 0.15 * 5.58)
    assert holds(found.reserve.duration_s, 310.0)
    assert "no_track" in codes(found)


def test_without_readings_there_is_no_energy_and_it_is_said():
    found = analyze(replace(RUN, readings=())).result
    assert found.reserve.energy_kwh is None
    assert found.consumption.past_zero_wh_per_km is None
    assert "no_energy_readings" in codes(found)


def test_an_empty_session_is_answered():
    analysis = analyze(Session("00000000-0000-4000-8000-000000000002"))
    assert analysis.result.timeline == ()
    assert analysis.result.recharge is None
    assert analysis.curves.t_ms.size == 0


def test_an_assumed_tap_delay_is_told(result):
    assert "tap_delay_assumed" not in codes(result)
    unknown = replace(RUN, protocol=Protocol())
    assert "tap_delay_assumed" in codes(analyze(unknown).result)


def test_no_tap_delay_is_assumed_where_every_record_says_its_own():
    """As those of a film do; one tap among them is enough to assume it."""
    frames = Delay(0.0, 0.1)
    told = [replace(event, tap_delay=frames) for event in RUN.events]
    seen = tuple(replace(reading, source="film") for reading in RUN.readings)
    film = replace(RUN, protocol=Protocol(), events=tuple(told), readings=seen)
    assert "tap_delay_assumed" not in codes(analyze(film).result)
    tapped = replace(film, events=(*told[:-1], replace(told[-1], tap_delay=None)))
    (finding,) = (f for f in analyze(tapped).result.findings if f.code == "tap_delay_assumed")
    assert "for 1 record." in finding.message


def test_a_second_phones_worse_track_is_named_and_not_used(result):
    (crumbs,) = RUN.breadcrumbs
    sparse = replace(
        crumbs,
        device="phone-2",
        **{name: getattr(crumbs, name)[::9] for name in Breadcrumbs.__slots__ if name != "device"},
    )
    both = replace(RUN, breadcrumbs=(sparse, crumbs), devices=(Device("phone"), Device("phone-2")))
    found = analyze(both).result
    assert found.reserve == result.reserve
    assert any(f.code == "track_chosen" and "phone-2" in f.message for f in found.findings)


def test_a_device_whose_clock_is_late_is_put_right_by_its_offset(result):
    late = replace(RUN, devices=(Device("phone"), Device("tablet", clock_offset_ms=5000.0)))
    events = tuple(
        replace(e, device="tablet", t_ms=e.t_ms - 5000) if e.kind == "zero_soc" else e
        for e in EVENTS
    )
    found = analyze(replace(late, events=events)).result
    assert found.reserve.distance_m.value == pytest.approx(
        result.reserve.distance_m.value, abs=1e-6
    )


def test_every_quantity_is_in_order(result):
    def walk(thing):
        if isinstance(thing, Quantity):
            yield thing
        elif isinstance(thing, tuple):
            for part in thing:
                yield from walk(part)
        elif hasattr(thing, "__slots__"):
            for name in thing.__slots__:
                yield from walk(getattr(thing, name))

    found = list(walk(result))
    assert len(found) > 60
    assert all(np.isfinite([q.value, q.low, q.high]).all() for q in found)
    assert all(q.low <= q.value <= q.high for q in found)


def test_the_plateau_gives_power_at_the_wheels_and_from_the_pack():
    """Force times speed by hand: (110 + 0.42 · 18²) N · 18 m/s, 0.9 efficient, 0.5 kW beside."""
    load = RoadLoad(110.0, 0.0, 0.42, driveline_efficiency=0.9)
    known = replace(RUN, vehicle=replace(RUN.vehicle, road_load=load))
    (limit,) = analyze(known).result.limits
    wheels_kw = (110 + 0.42 * 18**2) * 18 / 1000
    assert holds(limit.road_load_kw, wheels_kw)
    assert holds(limit.pack_kw, wheels_kw / 0.9 + 0.5)
    assert limit.pack_kw.value == pytest.approx(wheels_kw / 0.9 + 0.5, rel=0.03)


def test_a_stated_grade_is_in_the_power_and_an_unknown_one_is_said():
    load = RoadLoad(110.0, 0.0, 0.42, driveline_efficiency=0.9)
    car = replace(RUN.vehicle, road_load=load, mass_kg=1800.0)
    uphill = replace(RUN.course, full_throttle_grade_pct=1.0)
    level = analyze(replace(RUN, vehicle=car)).result
    climbing = analyze(replace(RUN, vehicle=car, course=uphill)).result
    codes = [[finding.code for finding in each.findings] for each in (level, climbing)]
    assert ["level_assumed" in said for said in codes] == [True, False]
    (flat,), (steep,) = level.limits, climbing.limits
    assert flat.wheels_kw == flat.road_load_kw == steep.road_load_kw
    assert steep.wheels_kw.value - flat.wheels_kw.value == pytest.approx(3.18, rel=0.06)
    assert steep.pack_kw.value > flat.pack_kw.value + 3.0


def test_a_display_in_miles_gives_the_same_figures():
    """1 mi = 1609.344 m exactly (NIST SP 811)."""

    def with_trip(unit: str, metres: float) -> Session:
        shown = tuple(
            Reading(f"d{s}", "phone", tap("note", s).t_ms, "trip_distance", value, unit, step)
            for s in (200, 300, 400, 500)
            for value, step in [(18.0 * (s - 20) / metres, 100 / metres)]
        )
        return replace(RUN, readings=READINGS + shown)

    in_km = analyze(with_trip("km", 1000.0)).result
    in_mi = analyze(with_trip("mi", 1609.344)).result
    assert in_mi.trip_check.ratio.value == pytest.approx(in_km.trip_check.ratio.value, rel=1e-9)
    assert in_mi.reserve.energy_kwh.value == pytest.approx(in_km.reserve.energy_kwh.value, rel=1e-9)


def test_zero_can_be_a_moment_of_the_users_choice():
    at_ms = (START_S + 200) * 1000
    chosen = replace(RUN.protocol, zero_basis="moment", zero_ms=at_ms)
    result = analyze(replace(RUN, protocol=chosen)).result
    assert result.zero.basis == "moment"
    assert result.zero.t_ms == at_ms
    assert result.reserve.distance_m is not None
    assert result.reserve.distance_m.value == pytest.approx(18.0 * 360, rel=5e-3)


def test_the_end_of_the_reserve_can_be_chosen():
    events = (*EVENTS, tap("contactors_open", 580))
    plain = analyze(replace(RUN, events=events)).result.reserve
    assert plain.ends_at == "propulsion_off"
    chosen = replace(RUN.protocol, reserve_end="contactors_open")
    later = analyze(replace(RUN, events=events, protocol=chosen)).result
    assert later.reserve.ends_at == "contactors_open"
    assert later.reserve.distance_m.value - plain.distance_m.value == pytest.approx(360, abs=4)
    never = replace(RUN.protocol, reserve_end="standstill")
    fallen_back = analyze(replace(RUN, events=events, protocol=never)).result
    assert fallen_back.reserve.ends_at == "propulsion_off"
    (said,) = (f for f in fallen_back.findings if f.code == "other_end")
    assert "“Standstill”, which was not noted; “Propulsion off” is used" in said.message


def test_excluded_fixes_are_left_out_bridged_and_told():
    from_ms, to_ms = ((START_S + s) * 1000 for s in (300, 330))
    left_out = replace(RUN, excluded=(Exclusion("phone", from_ms, to_ms, "under the bridge"),))
    result = analyze(left_out).result
    (gap,) = result.distance.gaps
    assert (gap.from_ms, gap.to_ms) == (from_ms - 1000, to_ms + 1000)
    (told,) = [f for f in result.findings if f.code == "fixes_excluded"]
    assert "31 positions of phone are left out by choice (under the bridge)" in told.message


def test_fixes_excluded_of_another_device_change_nothing():
    other = replace(RUN, excluded=(Exclusion("tablet", 0.0, 4e12),))
    assert analyze(other).result.distance == analyze(RUN).result.distance


def test_events_off_the_track_are_named_in_words_and_notes_not_at_all():
    events = (
        *EVENTS,
        tap("hazards_on", 2000, "3f0c2d5e-lamp"),
        tap("plug_in", 2050, "77a1-plug"),  # where it was charged nobody asks
        tap("note", -300, "8e1b-tick"),
        tap("note", 2100, "9a2c-log"),
    )
    found = analyze(replace(RUN, events=events)).result
    (said,) = (f for f in found.findings if f.code == "events_off_track")
    assert "“Hazard lights on” at 22:46:40 UTC" in said.message
    assert "3f0c2d5e-lamp" not in said.message
    assert "Note" not in said.message
    assert said.where == "events 3f0c2d5e-lamp"


def test_only_notes_off_the_track_are_no_finding():
    events = (*EVENTS, tap("note", -300, "8e1b-tick"))
    assert "events_off_track" not in codes(analyze(replace(RUN, events=events)).result)


def test_an_event_in_a_gap_is_named_in_words_and_a_note_there_not_at_all():
    (crumbs,) = RUN.breadcrumbs
    kept = (crumbs.t_ms < (START_S + 130) * 1000) | (crumbs.t_ms > (START_S + 170) * 1000)
    names = [name for name in Breadcrumbs.__slots__ if name != "device"]
    thinned = Breadcrumbs(crumbs.device, *(getattr(crumbs, name)[kept] for name in names))
    events = (*EVENTS, tap("note", 150, "no-gps"))
    found = analyze(replace(RUN, breadcrumbs=(thinned,), events=events)).result
    (said,) = (f for f in found.findings if f.code == "event_in_gap")
    assert said.message.startswith("“Warning” at 22:15:50 UTC falls into a gap")
    assert said.where == "event warning-150"
