"""Several phones on one session: one timeline from all of them."""

import re
from dataclasses import replace

import numpy as np
import pytest
from measure.drive import START_S, fixes, oval, session

from ebbline.measure.analysis import analyze
from ebbline.measure.track.alignment import align
from ebbline.measure.track.track import build
from ebbline.records.evidence import Breadcrumbs, Event, Session
from ebbline.records.setup import Delay, Device, Protocol

DRIVE = oval(600)
FIRST = fixes(DRIVE, seed=41)
OFFSET_S, DRIFT = 7.3, 40e-6  # the second phone's clock: late, and losing 40 parts per million


def second_phone(sigma_m: float = 3.0):
    """The same car by another receiver, stamped by a clock that is behind and drifts."""
    seen = fixes(DRIVE, seed=42, sigma_m=sigma_m)
    return replace(
        seen,
        device="phone-2",
        t_s=seen.t_s - OFFSET_S - DRIFT * (seen.t_s - START_S),
    )


def test_a_clock_that_is_behind_and_drifts_is_found_from_the_tracks():
    found = align(second_phone(), build(FIRST))
    assert found is not None
    middle_s = float(found.correction.behind_s(START_S + 300.0))
    expected_s = OFFSET_S + DRIFT * 300
    assert middle_s == pytest.approx(expected_s, abs=max(3 * found.correction.sd_s, 0.05))
    assert found.correction.sd_s < 0.2


def test_another_cars_track_is_not_aligned():
    elsewhere = replace(second_phone(), lat=second_phone().lat + 0.01)
    assert align(elsewhere, build(FIRST)) is None


def both(events: tuple[Event, ...], *, keep=slice(None), own=None) -> Session:
    """A session of both phones; ``keep`` thins the first one's fixes."""
    one = session(own or FIRST, events=events, protocol=Protocol(tap_delay=Delay(0.0, 0.1)))
    two = session(second_phone())
    names = [name for name in Breadcrumbs.__slots__ if name != "device"]
    (crumbs,) = one.breadcrumbs
    thinned = Breadcrumbs(crumbs.device, *(getattr(crumbs, name)[keep] for name in names))
    return replace(
        one,
        devices=(Device("phone"), Device("phone-2")),
        breadcrumbs=(thinned, *two.breadcrumbs),
    )


def stamp(at_s: float, behind_s: float = 0.0) -> int:
    return round((START_S + at_s - behind_s) * 1000)


def test_taps_of_both_phones_come_onto_one_timeline():
    behind_s = OFFSET_S + DRIFT * 300
    events = (
        Event("z", "phone", stamp(200), "zero_soc"),
        Event("w", "phone-2", stamp(300, behind_s), "warning"),
    )
    found = analyze(both(events)).result
    warning = next(entry for entry in found.timeline if entry.kind == "warning")
    assert warning.past_zero_m is not None
    assert warning.past_zero_m.low < 18.0 * 100 < warning.past_zero_m.high
    assert warning.past_zero_m.high - warning.past_zero_m.low < 30
    codes = {finding.code for finding in found.findings}
    assert {"clock_by_track", "track_chosen"} <= codes


def test_the_second_phone_fills_the_first_ones_gaps():
    keep = np.r_[0:250, 300:600]
    # The first leads by its speeds though it covers less time.
    events = (Event("z", "phone", stamp(200), "zero_soc"),)
    whole = both(events, keep=keep)
    shorter = replace(
        whole,
        breadcrumbs=(
            whole.breadcrumbs[0],
            Breadcrumbs(
                "phone-2",
                *(
                    getattr(whole.breadcrumbs[1], name)[240:330]
                    for name in Breadcrumbs.__slots__
                    if name != "device"
                ),
            ),
        ),
    )
    found = analyze(shorter).result
    assert found.distance.gaps == ()
    assert any(
        finding.code == "track_chosen" and "fill its gaps" in finding.message
        for finding in found.findings
    )
    assert found.distance.total_m is not None
    assert found.distance.total_m.low < DRIVE.along_m[-1] < found.distance.total_m.high


def test_the_same_breadcrumbs_under_two_names_count_once():
    (crumbs,) = session(FIRST).breadcrumbs
    twice = replace(session(FIRST), breadcrumbs=(crumbs, replace(crumbs, device="copy")), events=())
    alone = analyze(session(FIRST)).result
    assert analyze(twice).result.distance == alone.distance


def test_taps_at_times_a_clock_showed_twice_are_named():
    seen = fixes(DRIVE, seed=43)
    (crumbs,) = session(seen).breadcrumbs
    set_back = np.where(np.arange(600) >= 300, crumbs.t_ms - 120_000, crumbs.t_ms)
    events = (
        Event("before", "phone", stamp(100), "warning"),
        Event("twice", "phone", stamp(250), "zero_soc"),
    )
    whole = replace(session(seen, events=events), breadcrumbs=(replace(crumbs, t_ms=set_back),))
    (finding,) = (f for f in analyze(whole).result.findings if f.code == "moments_ambiguous")
    assert "\u201c0 % shown\u201d at 22:17:30 UTC" in finding.message
    assert "Warning" not in finding.message
    assert finding.where == "events and readings twice"


def with_gap_filled_by(
    east_m: float = 0.0, north_m: float = 0.0, *, wild: int = 0, only_gap: bool = True
) -> Session:
    """A first phone with a gap of 50 s, and a track 'import' that lies so far beside."""
    keep = np.r_[0:250, 300:600]
    names = [name for name in Breadcrumbs.__slots__ if name != "device"]
    (crumbs,) = session(FIRST).breadcrumbs
    imported = fixes(DRIVE, seed=44)
    lat, lon = imported.lat + north_m / 110_600, imported.lon + east_m / 108_900
    lat[260 : 260 + wild] += 1.0
    (other,) = session(replace(imported, device="import", lat=lat, lon=lon)).breadcrumbs
    part = slice(250, 300) if only_gap else slice(0, 600)
    return replace(
        session(FIRST),
        devices=(Device("phone"), Device("import")),
        breadcrumbs=(
            Breadcrumbs("phone", *(getattr(crumbs, name)[keep] for name in names)),
            Breadcrumbs("import", *(getattr(other, name)[part] for name in names)),
        ),
    )


def said_by(whole: Session) -> dict[str, str]:
    return {finding.code: finding.message for finding in analyze(whole).result.findings}


@pytest.mark.parametrize("beside_m", [600.0, 50_000.0, 6_000_000.0])
def test_fixes_that_the_car_cant_have_reached_dont_fill_a_gap(beside_m: float):
    whole = with_gap_filled_by(north_m=beside_m)
    alone = replace(whole, breadcrumbs=whole.breadcrumbs[:1])
    found = analyze(whole).result
    assert found.distance == analyze(alone).result.distance
    (told,) = (f for f in found.findings if f.code == "fixes_out_of_reach")
    assert told.severity == "doubt"
    assert told.message.startswith(
        "50 positions of import in gaps of phone, from 22:17:30 UTC to 22:18:19 UTC"
    )
    assert "leave out the positions of import" in told.message
    assert told.where == "breadcrumbs of import"


def test_how_far_off_such_fixes_lie_is_told():
    assert (
        "up to 50 km from where the car was"
        in said_by(with_gap_filled_by(north_m=50_000))["fixes_out_of_reach"]
    )


def test_fixes_in_reach_fill_a_gap_without_a_doubt():
    whole = with_gap_filled_by()
    assert analyze(whole).result.distance.gaps == ()
    assert "fixes_out_of_reach" not in said_by(whole)


def test_one_wild_fix_of_another_phone_is_left_out_alone():
    whole = with_gap_filled_by(wild=1)
    assert analyze(whole).result.distance.gaps == ()
    assert said_by(whole)["fixes_out_of_reach"].startswith("1 position of import")


def test_a_track_that_lies_elsewhere_at_the_same_moments_is_named_and_not_used():
    whole = with_gap_filled_by(east_m=4000, only_gap=False)
    said = said_by(whole)
    assert re.search(r"(import|phone) was (399\d|400\d) m away from", said["tracks_apart"])
    leader = "import" if "track of import is used" in said["tracks_apart"] else "phone"
    alone = replace(whole, breadcrumbs=tuple(b for b in whole.breadcrumbs if b.device == leader))
    assert analyze(whole).result.distance == analyze(alone).result.distance


def test_a_phone_in_the_same_car_is_not_told_to_be_elsewhere():
    assert "tracks_apart" not in said_by(with_gap_filled_by(only_gap=False))
    assert "tracks_apart" not in said_by(both(()))


def test_the_leading_track_is_not_told_as_unused():
    assert "not used" not in said_by(with_gap_filled_by())["track_chosen"]
