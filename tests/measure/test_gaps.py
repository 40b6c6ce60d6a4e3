"""Gaps in the positions: what the car did in one is not known, and the figures say how little.

A stand is put into a drive by hiding some of it and letting the rest come later: at 16 m/s a car
that brakes and starts at 4 m/s² covers 64 m in 8 s, as much as it drives in 4 s.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
from measure import drive as made
from measure.drive import START_S, Drive, fixes, hidden, on_a_straight, oval

from ebbline.measure.analysis import analyze
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.gap_passages import share_of_way
from ebbline.measure.track.track import build
from ebbline.records.evidence import Event, Reading, Session
from ebbline.records.result import Quantity, Result
from ebbline.records.setup import Course, Delay, Protocol, RoadLoad, Vehicle

SPEED_MPS = 16.0
STAND_M = 64.0
LAP_M = 2000.0
DELAY = Delay(0.9, 0.4)


def with_stand(lasting_s: float, from_s: float = 500.0, drive_s: float = 1000.0, seed: int = 1):
    """Laps with a stand that nobody saw; from the gap's start to its end it is STAND_M."""
    seen = fixes(oval(drive_s, speed_mps=SPEED_MPS), seed=seed)
    return hidden(seen, from_s, from_s + 4.0, lasting_s + 4.0)


def session(seen: Fixes, **parts: object) -> Session:
    """As a phone records it: its page's own clock ran on, so that no clock was set in the gap."""
    plain = made.session(seen, **parts)
    (crumbs,) = plain.breadcrumbs
    page = np.full(crumbs.seq.size, "load-1")
    told = replace(crumbs, page=page, mono_ms=crumbs.t_ms.astype(float))
    return replace(plain, breadcrumbs=(told,))


def gap_of(seen: Fixes, **parts: object) -> Quantity:
    (gap,) = analyze(session(seen, **parts)).result.distance.gaps
    return gap.bridged_m


def tap(kind: str, at_s: float) -> Event:
    stamp = round((START_S + at_s + DELAY.mean_s) * 1000)
    return Event(f"{kind}-{at_s:g}", "phone", stamp, kind)


def holds(figure: Quantity, truth_m: float) -> bool:
    return figure.low <= truth_m <= figure.high


# --- what may have happened -----------------------------------------------------------------------


@pytest.mark.parametrize("lasting_s", [60.0, 600.0])
@pytest.mark.parametrize("from_s", [40.0, 500.0], ids=["first lap", "known course"])
def test_a_stand_while_the_page_is_hidden_is_in_the_interval(lasting_s: float, from_s: float):
    seen = with_stand(lasting_s, from_s, drive_s=120.0 if from_s == 40.0 else 1000.0)
    assert holds(gap_of(seen), STAND_M)


def test_ten_minutes_driven_on_are_in_the_interval_of_as_long_a_stand():
    seen = fixes(oval(1800.0, speed_mps=SPEED_MPS), seed=2)
    stood, drove = gap_of(with_stand(596.0)), gap_of(hidden(seen, 500.0, 1104.0))
    assert stood.high > 4 * LAP_M  # for all that is known it may have driven on
    assert holds(drove, 604 * SPEED_MPS)
    assert drove.low < 604 * SPEED_MPS - 4 * LAP_M


def test_on_a_known_course_a_short_gap_is_as_long_as_on_other_laps_whether_it_stood_or_not():
    stood = gap_of(with_stand(60.0))
    seen = fixes(oval(1000.0, speed_mps=SPEED_MPS), seed=1)
    drove = gap_of(hidden(seen, 500.0, 540.0))
    assert holds(stood, STAND_M)
    assert stood.high - stood.low < 40
    assert holds(drove, 40 * SPEED_MPS)
    assert drove.high - drove.low < 40


@pytest.mark.parametrize("lasting_s", [5.0, 8.0])
def test_a_few_seconds_at_steady_speed_stay_precise(lasting_s: float):
    seen = fixes(oval(400.0, speed_mps=SPEED_MPS), seed=3)
    found = gap_of(hidden(seen, 200.0, 200.0 + lasting_s))
    assert holds(found, lasting_s * SPEED_MPS)
    assert found.high - found.low < 12


def test_a_picture_taken_while_coasting_to_rest_adds_no_distance():
    coasting = np.concatenate(
        [np.linspace(0, 16, 12), np.full(200, 16.0), np.linspace(16, 0, 90), np.zeros(120)]
    )
    drive = on_a_straight(coasting)
    from_s, to_s = 290.0, 315.0
    true_m = float(np.diff(np.interp([from_s, to_s], drive.t_s, drive.along_m))[0])
    found = gap_of(hidden(fixes(drive, seed=4), from_s, to_s))
    assert 8 < true_m < 20
    assert holds(found, true_m)
    assert found.value < 2 * true_m


def test_a_parked_car_has_not_driven_to_within_metres():
    seen = hidden(fixes(oval(600, speed_mps=0.0), seed=4), 100.0, 400.0)
    found = gap_of(seen)
    assert found.low == 0 < found.high < 25


def test_the_way_through_a_gap_never_falls():
    track = build(with_stand(600.0))
    (known,) = track.unseen.passages
    share = np.linspace(0, 1, 200)
    for length_m in (1.0, STAND_M, 9000.0):
        way = share_of_way(known.gap, share, known.gap.lasting_s, length_m)
        assert (way[0], way[-1]) == (0, pytest.approx(1))
        assert np.all(np.diff(way) >= -1e-12)
    at_s = np.linspace(known.gap.from_s, known.gap.from_s + known.gap.lasting_s, 50)
    assert np.all(np.diff(track.along_at(at_s)) >= 0)
    ways = np.array([known.way_m(float(t_s)) for t_s in at_s])
    assert np.all(np.diff(ways, axis=0) >= -1e-9)
    assert np.allclose(ways[-1], known.length_m)


def test_what_is_known_of_a_moment_in_a_gap_grows_to_its_ends():
    events = (tap("zero_soc", 450), tap("warning", 501), tap("hazards_on", 800),
              tap("comfort_cut", 1104), tap("propulsion_off", 1500))  # fmt: skip
    result = analyze(session(with_stand(600.0), events=events)).result
    past = {entry.kind: entry.past_zero_m for entry in result.timeline}
    wide = {kind: figure.high - figure.low for kind, figure in past.items() if figure}
    assert wide["warning"] < wide["hazards_on"] <= wide["comfort_cut"] * 1.1
    assert holds(past["hazards_on"], 50 * SPEED_MPS + STAND_M / 2)
    assert "event_in_gap" in {finding.code for finding in result.findings}


# --- what narrows it ------------------------------------------------------------------------------


def trips(distance_at, until_s: float, hidden_s: tuple[float, float]) -> tuple[Reading, ...]:
    """The car's meter, 0.6 % fast, read every two minutes outside a gap."""
    found = []
    for at_s in np.arange(90.0, until_s, 120.0).tolist():
        if hidden_s[0] < at_s < hidden_s[1]:
            continue
        shown_km = round(1.006 * (distance_at(at_s) - distance_at(20.0)) / 1000, 1)
        stamp = round((START_S + at_s + DELAY.mean_s) * 1000)
        found.append(
            Reading(f"trip-{at_s:g}", "phone", stamp, "trip_distance", shown_km, "km", 0.1)
        )
    return tuple(found)


def reserve_session(*, stood: bool, read: bool, typing_error_km: float = 0.0) -> Session:
    """From zero at 450 s over ten minutes unseen to the end at 1500 s."""
    seen = fixes(oval(1700.0, speed_mps=SPEED_MPS), seed=5)
    seen = hidden(seen, 500, 504, 600) if stood else hidden(seen, 500, 1104)
    drive = oval(1800.0, speed_mps=SPEED_MPS)

    def true_m(at_s: float) -> float:
        driven_s = at_s if not stood else min(at_s, 500 + max(at_s - 1100, 0))
        return float(np.interp(driven_s, drive.t_s, drive.along_m))

    readings = trips(true_m, 1600.0, (500.0, 1104.0)) if read else ()
    if typing_error_km:
        *early, last = readings
        assert last.value is not None
        readings = (*early, replace(last, value=last.value + typing_error_km))
    return session(
        seen,
        events=(tap("trip_reset", 20), tap("zero_soc", 450), tap("propulsion_off", 1500)),
        readings=readings,
        protocol=Protocol(tap_delay=DELAY, reading_delay=DELAY),
    )


def reserve_m(result: Result) -> Quantity:
    assert result.reserve.distance_m is not None
    return result.reserve.distance_m


@pytest.mark.parametrize("stood", [True, False], ids=["stood", "drove on"])
def test_trip_readings_on_both_sides_say_what_happened(stood: bool):
    truth_m = 450 * SPEED_MPS if stood else 1050 * SPEED_MPS
    alone = analyze(reserve_session(stood=stood, read=False)).result
    told = analyze(reserve_session(stood=stood, read=True)).result
    assert holds(reserve_m(alone), truth_m)
    assert reserve_m(alone).high - reserve_m(alone).low > 3 * LAP_M
    assert holds(reserve_m(told), truth_m)
    assert reserve_m(told).high - reserve_m(told).low < 100
    assert "gaps_by_trip_meter" in {finding.code for finding in told.findings}
    assert "readings_noted_late" not in {finding.code for finding in told.findings}
    assert told.trip_check is not None
    assert holds(told.trip_check.ratio, 1.006)


def test_without_other_laps_the_meter_tells_as_far_as_its_steps_allow():
    drive = on_a_straight(np.concatenate([np.linspace(0, 16, 12), np.full(1400, 16.0)]))
    seen = hidden(fixes(drive, seed=6), 500.0, 504.0, 600.0)

    def true_m(at_s: float) -> float:
        return float(np.interp(min(at_s, 500 + max(at_s - 1100, 0)), drive.t_s, drive.along_m))

    parts = {"events": (tap("trip_reset", 20),),
             "protocol": Protocol(tap_delay=DELAY, reading_delay=DELAY)}  # fmt: skip
    alone = gap_of(seen, **parts)
    told = gap_of(seen, readings=trips(true_m, 1900.0, (500, 1104)), **parts)
    assert holds(alone, STAND_M)
    assert alone.high > 9000
    assert holds(told, STAND_M)
    assert told.high - told.low < 250


def test_a_reading_that_no_gap_explains_is_told_and_narrows_nothing():
    alone = analyze(reserve_session(stood=True, read=False)).result
    wrong = analyze(reserve_session(stood=True, read=True, typing_error_km=90.0)).result
    assert "trip_meter_contradicts_gaps" in {finding.code for finding in wrong.findings}
    assert reserve_m(wrong) == reserve_m(alone)


def test_a_headline_that_hangs_on_a_gap_is_named_with_it():
    alone = analyze(reserve_session(stood=True, read=False)).result
    (said,) = (f for f in alone.findings if f.code == "hangs_on_gap")
    assert said.severity == "doubt"
    assert said.message.startswith(
        "The distance driven in all and the distance past zero hang on a gap of 10 min"
    )
    assert said.where.split(", ")[:2] == ["distance.total_m", "reserve.distance_m"]
    assert said.where.split(", ")[-1] == "distance.gaps[0]"
    told = analyze(reserve_session(stood=True, read=True)).result
    assert "hangs_on_gap" not in {finding.code for finding in told.findings}


@pytest.mark.parametrize("kind", ["standstill", "plug_in"])
def test_a_tap_at_rest_says_so_of_the_gap_and_a_warning_nothing(kind: str):
    seen = with_stand(600.0)
    plain = gap_of(seen)
    taps = (tap(kind, 520), tap(kind, 1085))
    rested = gap_of(seen, events=taps)
    assert holds(rested, STAND_M)
    assert rested.high < LAP_M
    assert gap_of(seen, events=(tap("warning", 520), tap("hazards_on", 1085))) == plain


def test_a_car_that_nothing_drives_comes_no_further_than_it_rolls():
    rolling = np.concatenate(
        [np.linspace(0, 16, 12), np.full(300, 16.0), np.linspace(16, 0, 100), np.zeros(600)]
    )
    drive = on_a_straight(rolling)
    seen = hidden(fixes(drive, seed=7), 330.0, 900.0)
    true_m = float(np.diff(np.interp([330.0, 900.0], drive.t_s, drive.along_m))[0])
    plain = gap_of(seen)
    told = gap_of(seen, events=(tap("propulsion_off", 311),))
    assert holds(plain, true_m)
    assert holds(told, true_m)
    assert told.high < 1500 < plain.high
    driven_on = (tap("propulsion_off", 40),)  # tapped by mistake: it gained speed afterwards
    assert gap_of(seen, events=driven_on) == plain


# --- energy across a gap --------------------------------------------------------------------------


def used(kwh: float, at_s: float) -> Reading:
    stamp = round((START_S + at_s + DELAY.mean_s) * 1000)
    return Reading(f"used-{at_s:g}", "phone", stamp, "trip_energy", round(kwh, 1), "kWh", 0.1)


@pytest.mark.parametrize("stood", [True, False], ids=["stood", "drove on"])
def test_energy_over_a_gap_that_no_reading_encloses_may_be_a_stands_or_a_drives(stood: bool):
    per_m, beside_kw = 1.5e-4, 0.5
    load = RoadLoad(per_m * 3.6e6 * 0.88, 0.0, 0.0, 0.88)
    evidence = replace(reserve_session(stood=stood, read=False), vehicle=Vehicle(road_load=load))
    before = tuple(
        used(per_m * SPEED_MPS * (s - 20) + beside_kw * s / 3600, s)
        for s in np.arange(60.0, 500.0, 30.0).tolist()
    )
    found = analyze(replace(evidence, readings=before)).result
    driven_m = (450 if stood else 1050) * SPEED_MPS
    truth_kwh = per_m * driven_m + beside_kw * 1050 / 3600
    assert found.reserve.energy_kwh is not None
    assert holds(found.reserve.energy_kwh, truth_kwh)
    (said,) = (f for f in found.findings if f.code == "hangs_on_gap")
    assert "reserve.energy_kwh" in said.where
    at_end = used(per_m * (driven_m + 430 * SPEED_MPS) + beside_kw * 1480 / 3600, 1510)
    enclosed = analyze(replace(evidence, readings=(*before, at_end))).result
    assert holds(enclosed.reserve.energy_kwh, truth_kwh)
    assert "readings_contradict" not in {finding.code for finding in enclosed.findings}
    assert all("energy" not in f.where for f in enclosed.findings if f.code == "hangs_on_gap")


# --- a track that misses the drive, and widths ----------------------------------------------------


def narrowest(node: object, at: str = "") -> list[str]:
    """Where quantities without width stand in a result."""
    if isinstance(node, Quantity):
        return [at] if node.low == node.high else []
    if is_dataclass(node) and not isinstance(node, type):
        return [
            place
            for field in fields(node)
            for place in narrowest(getattr(node, field.name), f"{at}.{field.name}")
        ]
    if isinstance(node, tuple):
        return [p for k, part in enumerate(node) for p in narrowest(part, f"{at}[{k}]")]
    return []


def shifted(evidence: Session, by_s: float) -> Session:
    (crumbs,) = evidence.breadcrumbs
    moved = replace(crumbs, t_ms=crumbs.t_ms + round(1000 * by_s))
    return replace(evidence, breadcrumbs=(moved,))


def rested_around() -> Fixes:
    """Parked for ten minutes before and after a drive of 600 s."""
    moving = oval(600)
    parts = []
    for at, from_s in ((0, -600.0), (-1, 600.0)):
        still = oval(600, speed_mps=0.0)
        parts.append(
            replace(
                still,
                t_s=still.t_s + from_s,
                position_m=np.broadcast_to(moving.position_m[at], still.position_m.shape),
                along_m=np.full(600, moving.along_m[at]),
            )
        )
    names = [field.name for field in fields(Drive)]
    columns = (np.concatenate([getattr(p, n) for p in (parts[0], moving, parts[1])]) for n in names)
    return fixes(Drive(*columns), seed=8)


@pytest.mark.parametrize("by_s", [0.0, 3600.0, -3600.0, 3 * 86_400.0])
def test_no_figure_has_an_interval_without_width_but_by_definition(by_s: float):
    events = (tap("trip_reset", 20), tap("zero_soc", 250), tap("propulsion_off", 560),
              tap("standstill", 620), tap("contactors_open", 700),
              tap("plug_in", 5000))  # fmt: skip
    readings = tuple(used(2.5e-3 * (s - 20), s) for s in np.arange(60.0, 600.0, 60.0).tolist())
    whole = session(rested_around(), events=events, readings=readings)
    result = analyze(shifted(whole, by_s)).result
    zero, last = (
        next(k for k, entry in enumerate(result.timeline) if entry.kind == kind)
        for kind in ("zero_soc", "propulsion_off")
    )
    by_definition = {f".timeline[{zero}].past_zero_m", f".timeline[{zero}].energy_past_zero_kwh"}
    by_definition |= {
        f".timeline[{k}].{left}"
        for k in range(last, len(result.timeline))
        for left in ("left_m", "left_kwh")
    }
    assert set(narrowest(result)) <= by_definition
    if by_s:
        assert result.reserve.distance_m is None
        energy = result.reserve.energy_kwh  # by the display alone, where the track says nothing
        assert energy is None or energy.low < energy.value < energy.high
    else:
        assert holds(reserve_m(result), 310 * 18.0)


def test_a_track_that_ended_at_rest_long_before_the_drive_places_none_of_it():
    """Beside the taps lies nothing but a parked car's track: it says nothing of the drive."""
    seen = rested_around()
    parked = Fixes(
        seen.device,
        *(getattr(seen, n)[seen.t_s < START_S - 400] for n in Fixes.__slots__ if n != "device"),
    )
    events = (tap("zero_soc", 250), tap("propulsion_off", 560))
    result = analyze(session(parked, events=events)).result
    assert result.reserve.distance_m is None
    assert all(entry.past_zero_m is None or entry.kind == "zero_soc" for entry in result.timeline)


def test_one_ensemble_serves_all_figures():
    """Distance to a moment and from there on add up to the whole, whatever happened in the gap."""
    track = build(with_stand(600.0))
    at_s = START_S + np.array([400.0, 800.0, 1500.0])
    apart_m = track.unseen.apart_m(at_s)
    (known,) = track.unseen.passages
    assert np.all(apart_m[:, 0] == 0)
    taken_m = track.along_m[known.gap.start + 1] - track.along_m[known.gap.start]
    assert np.allclose(apart_m[:, 2], known.length_m - taken_m)


def test_an_event_off_the_track_leaves_the_others_their_distances():
    """With a surveyed lap as ruler all moments are worked out together."""
    course = Course(closed=True, surveyed_lap_m=LAP_M, surveyed_lap_sd_m=0.5)
    seen = fixes(oval(800.0, speed_mps=SPEED_MPS), seed=9)
    events = (tap("zero_soc", 250), tap("propulsion_off", 700), tap("plug_in", 9000))
    result = analyze(session(seen, events=events, course=course)).result
    assert "as reference" in result.distance.method
    placed = {entry.kind: entry.past_zero_m for entry in result.timeline}
    assert placed["plug_in"] is None
    assert holds(placed["propulsion_off"], 450 * SPEED_MPS)
    assert holds(reserve_m(result), 450 * SPEED_MPS)


def test_readings_in_a_gap_are_not_taken_for_late_ones():
    """The meter read on while the positions were gone: where the car was then nobody knows."""
    evidence = reserve_session(stood=True, read=True)
    drive = oval(1800.0, speed_mps=SPEED_MPS)
    unseen = [
        replace(
            evidence.readings[0],
            id=f"in-gap-{at_s}",
            t_ms=round((START_S + at_s + DELAY.mean_s) * 1000),
            value=round(1.006 * float(drive.along_m[502] - drive.along_m[20]) / 1000, 1),
        )
        for at_s in (620, 740, 860, 980)
    ]
    told = replace(evidence, readings=(*evidence.readings, *unseen),
                   protocol=Protocol(tap_delay=DELAY))  # fmt: skip
    result = analyze(told).result
    assert "readings_noted_late" not in {finding.code for finding in result.findings}
    assert holds(reserve_m(result), 450 * SPEED_MPS)
    assert reserve_m(result).high - reserve_m(result).low < 100
