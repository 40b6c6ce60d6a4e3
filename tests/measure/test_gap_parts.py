"""Gaps in the track: what taps say of them, and which figures hang on them."""

from __future__ import annotations

import numpy as np
import pytest
from measure.drive import START_S, fixes, hidden, on_a_straight
from measure.moments import noted, taps

from ebbline.measure.hanging import hanging_of
from ebbline.measure.motion.motion import Motion
from ebbline.measure.reserve.reserve import reserve_of
from ebbline.measure.reserve.span import find_span
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Events
from ebbline.measure.track.gap_evidence import GapEvidence, gap_evidence
from ebbline.measure.track.gap_taps import heed_taps
from ebbline.measure.track.gaps import gap_findings, gaps_of
from ebbline.measure.track.track import Track, build
from ebbline.measure.trip_meter.gap_readings import narrow_gaps
from ebbline.records.setup import Pack, Protocol

CRUISE = on_a_straight(np.concatenate([np.linspace(0, 16, 13), np.full(400, 16.0)]))
SEEN = fixes(CRUISE, seed=1)


@pytest.fixture(scope="module")
def gappy() -> Track:
    """At 16 m/s, unseen from 100 to 110 s and from 200 to 260 s."""
    return build(hidden(hidden(SEEN, 100, 110), 200, 260))


# --- gaps -----------------------------------------------------------------------------------------


def test_a_gap_runs_from_the_last_fix_before_it_to_the_first_after(gappy: Track):
    """10 s and 60 s at 16 m/s: 160 m and 960 m."""
    first, second = gaps_of(gappy)
    assert (first.from_ms, first.to_ms) == (1000 * (START_S + 100), 1000 * (START_S + 110))
    assert (second.from_ms, second.to_ms) == (1000 * (START_S + 200), 1000 * (START_S + 260))
    assert first.bridged_m.low < 160 < first.bridged_m.high
    assert second.bridged_m.low < 960 < second.bridged_m.high


def test_one_finding_counts_the_gaps_and_their_time(gappy: Track):
    (said,) = gap_findings(gappy)
    assert said.message.startswith("2 gaps in the positions, 70 s in all, the longest 60 s:")


def test_neither_a_whole_track_nor_a_parked_car_has_gaps_to_tell_of():
    whole = build(SEEN)
    assert (gaps_of(whole), gap_findings(whole)) == ((), [])
    still = fixes(on_a_straight(np.zeros(300)), seed=2)
    parked = build(hidden(still, 100, 200))
    assert len(gaps_of(parked)) == 1
    assert gap_findings(parked) == []


def test_a_car_that_was_tapped_at_rest_came_nowhere_between_the_taps(gappy: Track):
    heeded = heed_taps(gappy, taps(("standstill", 215.0), ("plug_in", 245.0)))
    short, long = heeded.unseen.passages
    assert long.gap.still_s == (15, 45)
    assert np.allclose(long.way_m(START_S + 215), long.way_m(START_S + 245))
    assert short is gappy.unseen.passages[0]


@pytest.mark.parametrize(
    "each",
    [
        (("warning", 220.0),),
        (("standstill", 300.0),),  # seen, so nothing of a gap
        (("propulsion_off", 50.0),),  # a slip: it kept its speed for minutes
    ],
)
def test_other_taps_leave_the_gaps_as_they_are(gappy: Track, each):
    assert heed_taps(gappy, taps(*each)) is gappy
    assert heed_taps(None, taps(*each)) is None


def test_a_car_without_propulsion_rolls_through_its_gap():
    """Off at 190 s at 16 m/s, to rest at 250 s; unseen from 200 to 300 s."""
    speed = np.concatenate([np.full(190, 16.0), np.linspace(16, 0, 61), np.zeros(100)])
    track = build(hidden(fixes(on_a_straight(speed), seed=3), 200, 300))
    off = ("propulsion_off", 190.0)
    (known,) = heed_taps(track, taps(off)).unseen.passages
    assert known.gap.coasting_from_s == pytest.approx(-10)
    (restarted,) = heed_taps(track, taps(off, ("restart", 195.0))).unseen.passages
    assert restarted.gap.coasting_from_s is None


# --- what the track and the meter say of a gap ----------------------------------------------------


def evidence(t_s: np.ndarray, position_m: np.ndarray, speed_mps: float) -> GapEvidence:
    """Of the one gap in a drive at one speed."""
    n = t_s.size
    gap = np.diff(t_s) > 5
    ahead = np.diff(position_m, axis=0, append=2 * position_m[-1:] - position_m[-2:-1])
    length_m = np.hypot(*ahead.T)[:, None]
    velocity = speed_mps * np.divide(ahead, length_m, out=np.zeros_like(ahead), where=length_m > 0)
    speed, stopped = np.full(n, speed_mps), np.full(n, speed_mps == 0)
    step_m = speed_mps * np.diff(t_s)
    (found,) = gap_evidence(t_s, position_m, velocity, speed, stopped, gap, step_m, 1.0)
    return found


OUT_OF_SIGHT = np.r_[0:101, 110:201].astype(float)  # from 100 to 110 s


def test_on_a_straight_a_gap_has_its_chord_and_the_usual_pace():
    """10 m/s: 100 m across 10 s."""
    north = np.column_stack([np.zeros(192), 10 * OUT_OF_SIGHT])
    found = evidence(OUT_OF_SIGHT, north, 10.0)
    assert (found.start, found.from_s, found.lasting_s) == (100, 100, 10)
    assert (found.chord_m, found.pace_mps, found.usual_mps) == pytest.approx((100, 10, 10))
    assert (found.routes_m.size, found.parked) == (0, False)


def test_round_a_circle_other_laps_tell_the_way_and_whole_laps_more():
    """400 m round at 10 m/s: a quarter of it is 100 m along, and √2 times 63.7 m across."""
    angle = 2 * np.pi * OUT_OF_SIGHT / 40
    circle = 400 / (2 * np.pi) * np.column_stack([np.cos(angle), np.sin(angle)])
    found = evidence(OUT_OF_SIGHT, circle, 10.0)
    assert found.chord_m == pytest.approx(np.sqrt(2) * 400 / (2 * np.pi))
    assert found.laps_known
    assert found.routes_m[0] == pytest.approx(100, abs=1)
    assert np.allclose(np.diff(found.routes_m), 400, atol=2)


def test_a_car_that_stood_at_both_ends_in_one_place_was_parked():
    assert evidence(OUT_OF_SIGHT, np.zeros((192, 2)), 0.0).parked


def metered(shown_km: float):
    """Reset at 20 s, 2.1 km shown at 150 s and 2.7 at 190; then ten minutes unseen, and this."""
    track = build(hidden(SEEN, 200, 204, 600.0))
    each = ((150, 2.1), (190, 2.7), (850, shown_km))
    readings = [noted("trip_distance", at_s, km, "km") for at_s, km in each]
    narrowed, findings = narrow_gaps(track, readings, taps(("trip_reset", 20.0)))
    return track, narrowed, [finding.code for finding in findings]


@pytest.mark.parametrize(("shown_km", "gap_m"), [(3.7, 84), (8.7, 5084)])
def test_the_meter_tells_how_far_the_car_came_unseen(shown_km: float, gap_m: float):
    """180 s before the gap and 46 s after it are 3,616 m at 16 m/s; the rest of it is the gap."""
    track, narrowed, codes = metered(shown_km)
    before, after = (each.unseen.passages[0].length_m for each in (track, narrowed))
    assert codes == ["gaps_by_trip_meter"]
    assert np.std(before) > 1000
    assert np.std(after) < 100
    assert np.median(after) == pytest.approx(gap_m, abs=100)


def test_a_reading_that_no_way_through_the_gap_explains_narrows_nothing():
    """90 km in ten minutes."""
    track, narrowed, codes = metered(90.0)
    assert narrowed is track
    assert codes == ["trip_meter_contradicts_gaps"]


# --- figures that hang on a gap -------------------------------------------------------------------


def hung(track: Track, events: Events) -> list[str]:
    run = Run(events, Motion.by_positions(track), None)
    span, _ = find_span(events, Protocol())
    return [said.where for said in hanging_of(run, span, reserve_of(run, span, Pack()))]


def test_only_figures_with_the_gap_in_them_hang_on_it_and_it_is_the_long_one():
    """Unseen for 10 s, and for ten minutes after which it was 64 m further: it stood, or did it?"""
    track = build(hidden(hidden(SEEN, 200, 204, 600.0), 100, 110))
    over = taps(("zero_soc", 150.0), ("propulsion_off", 900.0))
    (where,) = hung(track, over)
    assert where == (
        "distance.total_m, reserve.distance_m, consumption.past_zero_wh_per_km, distance.gaps[1]"
    )
    beyond = taps(("zero_soc", 850.0), ("propulsion_off", 900.0))
    assert hung(track, beyond) == ["distance.total_m, distance.gaps[1]"]
    assert hung(build(SEEN), over) == []
