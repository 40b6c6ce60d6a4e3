"""The sample sessions: made by their generator, sound, and measured right."""

import io
import json
import re
from copy import deepcopy
from functools import cache

import compare
import generate
import numpy as np
import pytest
from campaign import BETWEEN_CARS_SD_KWH
from filmed import FILMED
from PIL import Image
from pyproj import Geod
from scenarios import SAMPLES
from simulator.invented import TRUE_LAP_M, course_one

from ebbline.exchange import session_file
from ebbline.vocabulary import EVENTS, FACTS

NAMES = ["early-shutdown", "film-and-phone", "film-only", "full-run", "lap-check", "rough-evidence"]
CAMPAIGN_FILES = sorted((generate.HERE / "campaign").glob("*.ebbline.json"))

document = cache(compare.read_document)
result_of = cache(compare.result_of)
made_files = cache(generate.files)


@cache
def compared(name):
    return compare.rows(result_of(name), compare.read_truth(name))


@cache
def comparison():
    return compare.comparison_of_campaign()


def campaign_truth():
    return compare.read_truth(compare.CAMPAIGN)


# --- the files -----------------------------------------------------------------------------------


def test_the_generator_makes_the_committed_files_to_the_last_decimal_but_one_step():
    """A sine's last bits are the processor's own; what is written must not hang on them."""
    made = made_files()
    held = {
        path.relative_to(generate.HERE).as_posix()
        for ending in ("json", "zip")
        for path in generate.HERE.rglob(f"*.{ending}")
    }
    assert set(made) == held
    for name, data in made.items():
        committed = (generate.HERE / name).read_bytes()
        if name.endswith(".zip"):
            assert list(generate.archive_differences(committed, data)) == []
        else:
            assert list(generate.differences(json.loads(committed), json.loads(data))) == []
        assert generate.is_promised(committed, data), f"{name} is laid out otherwise"


def test_a_picture_packed_otherwise_is_the_same_and_one_pixel_more_is_not():
    committed = (generate.HERE / "film-and-phone.ebbline.zip").read_bytes()
    whole, pictures = session_file.load_file(committed)

    def with_first(change):
        """The archive with its first picture changed and packed anew."""
        first, *others = pictures
        picture = Image.open(io.BytesIO(pictures[first]))
        change(picture)
        packed = io.BytesIO()
        picture.save(packed, "PNG", compress_level=1)
        anew = packed.getvalue()
        named = session_file.sha256_of(anew)
        assert named != first
        told = json.loads(json.dumps(whole).replace(first, named))
        kept = {sha256: pictures[sha256] for sha256 in others}
        return session_file.dump_archive(told, {named: anew, **kept})

    assert generate.is_promised(committed, with_first(lambda picture: None))
    found = with_first(lambda picture: picture.putpixel((3, 4), (1, 2, 3)))
    assert not generate.is_promised(committed, found)
    assert any(
        "photos.0.sha256" in place for place in generate.archive_differences(committed, found)
    )


ONE_OF_EACH = {
    "breadcrumbs": [{"seq": [4], "t_ms": [1_772_443_800_350], "lat": [12.0031547]}],
    "run": {"energy_kwh": [0.25], "distance_m": [21359.888]},
    "reserve": {"distance_m": 5120.25, "energy_kwh": 0.780001, "ends_at": "propulsion_off"},
}


@pytest.mark.parametrize(
    ("place", "one_step", "more"),
    [
        (("breadcrumbs", 0, "lat", 0), 12.0031548, 12.0031549),
        (("breadcrumbs", 0, "t_ms", 0), 1_772_443_800_351, 1_772_443_800_352),
        (("breadcrumbs", 0, "seq", 0), 4, 5),
        (("run", "energy_kwh", 0), 0.25001, 0.25002),
        (("run", "distance_m", 0), 21359.889, 21359.89),
        (("reserve", "distance_m"), 5120.251, 5120.252),
        (("reserve", "energy_kwh"), 0.78, 0.780003),
        (("reserve", "ends_at"), "propulsion_off", "standstill"),
        (("reserve", "energy_kwh"), 0.780001, None),
        (("reserve",), ONE_OF_EACH["reserve"], {"distance_m": 5120.25}),
        (("breadcrumbs", 0, "seq"), [4], [4, 5]),
    ],
)
def test_one_step_of_the_last_decimal_is_promised_and_no_more(place, one_step, more):
    def with_value(value):
        changed = deepcopy(ONE_OF_EACH)
        part = changed
        for name in place[:-1]:
            part = part[name]
        part[place[-1]] = value
        return changed

    assert list(generate.differences(ONE_OF_EACH, with_value(one_step))) == []
    found = list(generate.differences(ONE_OF_EACH, with_value(more)))
    assert len(found) == 1
    assert found[0].startswith(".".join(map(str, place)))


def test_these_are_all_the_samples():
    assert compare.names() == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_is_read_and_written_without_loss(name):
    (path,) = generate.HERE.glob(f"{name}.ebbline.*")
    data = path.read_bytes()
    whole, pictures = session_file.load_file(data)
    if pictures:
        assert session_file.load_file(session_file.dump_archive(whole, pictures)) == (
            whole,
            pictures,
        )
    else:
        assert json.loads(session_file.dump_document(whole)) == json.loads(data)
    assert len(data) < 600_000


OF_CAMPAIGN = [f"campaign/{path.name.removesuffix('.ebbline.json')}" for path in CAMPAIGN_FILES]


@pytest.mark.parametrize("name", NAMES + OF_CAMPAIGN)
def test_a_sample_says_that_it_is_invented_and_lies_in_the_open_sea(name):
    assert "Invented" in document(name)["session"]["notes"]
    assert re.match(r"Sample: |Campaign car \d+: ", document(name)["session"]["title"])
    for entry in document(name)["breadcrumbs"]:
        assert np.all(np.abs(np.array(entry["lat"]) - 12) < 0.02)
        assert np.all(np.abs(np.array(entry["lon"]) + 38) < 0.02)


# --- the world behind them -----------------------------------------------------------------------


def test_the_course_has_the_length_that_the_truth_claims():
    """Sum of geodesics between points 5 cm apart (Karney's algorithm, in pyproj)."""
    course = course_one()
    s_m = np.linspace(0, TRUE_LAP_M, 48_001)
    lat, lon = course.geographic(course.plane_at(s_m))
    assert Geod(ellps="WGS84").line_length(lon, lat) == pytest.approx(TRUE_LAP_M, abs=0.005)


@pytest.mark.parametrize("name", ["film-and-phone", "full-run", "rough-evidence"])
def test_full_throttle_gives_less_and_less_past_zero(name):
    speeds = [limit["speed_mps"] for limit in compare.read_truth(name)["limits"]]
    assert len(speeds) == 4
    assert speeds == sorted(speeds, reverse=True)
    assert speeds[0] > 2 * speeds[-1]


def test_energy_is_conserved_from_zero_to_the_first_per_cent():
    """What was drawn below zero, standing included, is what had to go back in."""
    truth = compare.read_truth("full-run")
    run, at_zero_ms = truth["run"], truth["zero"]["t_ms"]
    at_zero_kwh = np.interp(at_zero_ms, run["t_ms"], run["energy_kwh"])
    drawn_kwh = run["energy_kwh"][-1] - at_zero_kwh
    assert truth["balance"]["recharged_below_zero_kwh"] == pytest.approx(drawn_kwh, abs=0.002)


def test_the_rough_sample_is_as_rough_as_it_says():
    entries = document("rough-evidence")["breadcrumbs"]
    assert len(entries) == 2
    jump_ms = entries[1]["t_ms"][0] - entries[0]["t_ms"][-1]
    assert jump_ms == pytest.approx(3_600_000, abs=3000)
    t_ms = np.concatenate([entry["t_ms"] for entry in entries])
    t_ms[len(entries[0]["t_ms"]) :] -= 3_600_000
    steps_s = np.diff(t_ms) / 1000
    assert np.count_nonzero(steps_s == 0) > 10  # delivered twice
    gaps_s = [round((gap["to_ms"] - gap["from_ms"]) / 1000) for gap in
              compare.read_truth("rough-evidence")["distance"]["gaps"]]  # fmt: skip
    assert sorted(gaps_s) == [8, 12, 18, 27, 45]
    assert np.count_nonzero(steps_s > 7) == 5
    speeds = [speed for entry in entries for speed in entry["speed_mps"]]
    assert speeds.count(None) > 300
    events = document("rough-evidence")["events"]
    assert sum(bool(event.get("withdraws")) for event in events) == 1
    assert sum(event["corrects"] is not None for event in events) == 2
    readings = document("rough-evidence")["readings"]
    assert {(reading["device"], reading["source"]) for reading in readings} == {("desk", "typed")}


# --- Ebbline's figures against the truth ---------------------------------------------------------

# An interval of 95 % may miss. Over all samples, whose figures hang together within each, one in
# ten is more than chance explains; and what misses must miss by little.
MOST_MISSES = 0.10
FURTHEST_MISS = 2.0  # half-widths from the value


@pytest.mark.parametrize("name", NAMES)
def test_no_figure_of_a_sample_is_far_from_the_truth(name):
    for row in compared(name):
        if row.inside is False:
            half_width = row.high - row.value if row.truth > row.value else row.value - row.low
            assert abs(row.truth - row.value) < FURTHEST_MISS * half_width, row


def test_the_intervals_hold_the_truth_about_as_often_as_they_say():
    judged = [row for name in NAMES for row in compared(name) if row.inside is not None]
    missed = [row for row in judged if not row.inside]
    assert len(judged) > 300
    assert len(missed) <= MOST_MISSES * len(judged), missed


def test_sessions_that_nobody_has_looked_at_hold_as_well():
    """The committed samples could have been tuned to; these are made as the test runs."""
    judged = []
    for make in (*SAMPLES, *FILMED):
        sample = make(1)
        result = compare.result_of_document(sample.session)
        assert compare.plain_differences(result, sample.truth) == []
        judged += [row for row in compare.rows(result, sample.truth) if row.inside is not None]
    missed = [row for row in judged if not row.inside]
    assert len(judged) > 300
    assert len(missed) <= MOST_MISSES * len(judged), missed


HEADLINES = {
    "full-run": [
        "distance.total_m", "lap_check.measured_m", "trip_check.ratio", "zero.trip_reset_after_m",
        "zero.zero_range_after_m", "reserve.distance_m", "reserve.energy_kwh",
        "reserve.duration_s", "reserve.share_of_usable_pct", "limits[0].speed_mps",
        "limits[3].speed_mps", "recharge.trickle_s", "recharge.trickle_kw",
        "recharge.trickle_kwh", "recharge.full_power_kw", "recharge.energy_in_kwh",
        "recharge.below_zero_kwh", "consumption.past_zero_wh_per_km",
        "balance.driven_below_zero_kwh", "balance.recharged_below_zero_kwh",
    ],
    "early-shutdown": ["distance.total_m", "trip_check.ratio"],
    "film-and-phone": [
        "distance.total_m", "lap_check.measured_m", "trip_check.ratio", "reserve.distance_m",
        "reserve.energy_kwh", "reserve.duration_s", "limits[0].speed_mps", "recharge.trickle_s",
        "recharge.full_power_kw", "recharge.energy_in_kwh", "consumption.past_zero_wh_per_km",
        "balance.driven_below_zero_kwh", "balance.recharged_below_zero_kwh",
    ],
    "film-only": [
        "reserve.distance_m", "reserve.energy_kwh", "reserve.duration_s",
        "reserve.share_of_usable_pct", "recharge.trickle_s", "recharge.full_power_kw",
        "recharge.energy_in_kwh", "consumption.past_zero_wh_per_km",
        "balance.driven_below_zero_kwh", "balance.recharged_below_zero_kwh",
    ],
    "rough-evidence": [
        "distance.total_m", "lap_check.measured_m", "trip_check.ratio", "reserve.distance_m",
        "reserve.energy_kwh", "reserve.duration_s", "limits[0].speed_mps", "limits[3].speed_mps",
        "consumption.past_zero_wh_per_km",
    ],
    "lap-check": ["distance.total_m", "lap_check.measured_m", "trip_check.ratio"],
}  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_the_headline_figures_of_a_sample_are_given_and_nearly_all_hold(name):
    """None may be 'not known'; of those of one sample at most one may miss."""
    by_figure = {row.figure: row for row in compared(name)}
    rows = [by_figure[figure] for figure in HEADLINES[name]]
    assert [row.figure for row in rows if row.inside is None] == []
    assert sum(not row.inside for row in rows) <= 1, [row for row in rows if not row.inside]


# Wide intervals hold anything; a figure must also say something.
@pytest.mark.parametrize(
    ("name", "figure", "widest"),
    [
        ("full-run", "distance.total_m", 40.0),
        ("full-run", "reserve.distance_m", 80.0),
        ("full-run", "reserve.energy_kwh", 0.12),
        ("full-run", "recharge.energy_in_kwh", 0.2),
        ("rough-evidence", "reserve.distance_m", 120.0),
        ("film-and-phone", "reserve.energy_kwh", 0.05),
        ("film-only", "reserve.energy_kwh", 0.25),
        ("lap-check", "lap_check.measured_m", 8.0),
    ],
)
def test_the_intervals_are_narrow_enough_to_be_of_use(name, figure, widest):
    row = next(row for row in compared(name) if row.figure == figure)
    assert row.high - row.low < widest


@pytest.mark.parametrize("name", ["film-and-phone", "full-run", "lap-check", "rough-evidence"])
def test_every_lap_is_found_but_where_a_gap_hid_the_gate(name):
    result, truth = result_of(name), compare.read_truth(name)
    hidden = {
        lap["to_ms"]
        for lap in truth["laps"]
        for gap in truth["distance"]["gaps"]
        if gap["from_ms"] < lap["to_ms"] < gap["to_ms"]
    }
    assert len(truth["laps"]) - len(hidden) <= len(result["laps"]) <= len(truth["laps"])


@pytest.mark.parametrize("name", NAMES)
def test_what_is_no_quantity_is_right_too(name):
    result, truth = result_of(name), compare.read_truth(name)
    assert compare.plain_differences(result, truth) == []
    codes = {finding["code"] for finding in result["findings"] if finding["severity"] == "error"}
    assert codes == set()


def test_the_early_shutdown_has_no_figures_past_a_zero_that_never_came():
    result = result_of("early-shutdown")
    assert result["reserve"]["shut_down_before_zero"]
    assert result["reserve"]["distance_m"] is None
    assert result["zero"]["basis"] is None
    assert all(entry["past_zero_m"] is None for entry in result["timeline"])


def test_two_claps_tie_the_film_to_the_phone():
    """What was looked up on the film is off by one and the same time, as little as is said."""
    whole = document("film-and-phone")
    (film,) = (device for device in whole["devices"] if device.get("kind") == "film")
    claps = [event for event in whole["events"] if event["kind"] == "film_sync"]
    assert [event["text"] for event in claps] == [film["label"]] * 2
    true_ms = {
        entry["event_id"]: entry["at_ms"]
        for entry in compare.read_truth("film-and-phone")["timeline"]
    }
    first_frame_ms = [true_ms[event["id"]] - 1000 * event["value"] for event in claps]
    assert np.ptp(first_frame_ms) <= 10  # to the hundredth of a second that was typed
    looked_up = [event for event in whole["events"] if event["device"] == film["id"]]
    assert {event["corrects"] for event in looked_up} <= {event["id"] for event in whole["events"]}
    off_ms = [event["t_ms"] - true_ms[event["id"]] for event in looked_up]
    assert len(off_ms) > 4
    assert np.std(off_ms) < 200  # a few frames
    assert abs(np.mean(off_ms)) < 2 * film["clock_offset_sd_ms"]
    readings = [reading for reading in whole["readings"] if reading["device"] == film["id"]]
    assert len(readings) > 20
    frame_ms = {reading["t_to_ms"] - reading["t_ms"] for reading in readings}
    assert frame_ms <= {39, 40, 41}  # one frame of 25 a second, in whole milliseconds


def test_what_is_known_only_from_film_has_no_position_and_says_so():
    whole, result = document("film-only"), result_of("film-only")
    assert whole["breadcrumbs"] == []
    assert {record["device"] for record in whole["events"] + whole["readings"]} == {"film-1"}
    assert result["reserve"]["basis"] == "trip_meter"
    assert "distance_by_trip_meter" in {finding["code"] for finding in result["findings"]}


# --- the campaign --------------------------------------------------------------------------------


def test_the_campaign_is_of_a_dozen_invented_cars_with_what_makes_them_comparable():
    whole = [document(name) for name in OF_CAMPAIGN]
    cars = {one["vehicle"]["label"] for one in whole}
    assert cars == {f"Campaign car {number}" for number in range(1, 13)}
    assert len({one["vehicle"]["pack"]["chemistry"] for one in whole}) == 2
    assert sum(path.stat().st_size for path in CAMPAIGN_FILES) < 800_000
    classes = EVENTS["warning"].choices.words
    never = {"measured_kwh", "measured_sd_kwh"}  # nobody measured these packs
    for one in whole:
        for place in FACTS:
            *parents, key = place.split(".")
            stated = one
            for parent in parents:
                stated = stated[parent]
            assert (stated.get(key) is not None) != (key in never), place
        for event in one["events"]:
            assert (event.get("class") in classes) == (event["kind"] == "warning")


def test_what_is_compared_and_what_is_left_out_are_all_of_the_campaigns_sessions():
    definition = json.loads((generate.HERE / f"{compare.CAMPAIGN}.json").read_bytes())
    left_out = [one["session_id"] for one in definition["left_out"]]
    named = sorted(definition["session_ids"] + left_out)
    assert named == sorted(document(name)["session"]["id"] for name in OF_CAMPAIGN)
    compared = [one.session_id for one in comparison().sessions]
    assert sorted(compared) == sorted(definition["session_ids"])
    assert len(left_out) == 1


def test_the_campaigns_cars_differ_from_their_rule_by_what_it_says():
    rule = campaign_truth()["rule"]
    off_kwh = [
        session["reserve_kwh"] - rule["fixed_kwh"] - rule["share_pct"] / 100 * session["usable_kwh"]
        for session in campaign_truth()["sessions"]
        if session["reserve_m"] is not None and "software" not in session["name"]
    ]
    assert len(off_kwh) == 12
    assert rule["between_cars_sd_kwh"] == BETWEEN_CARS_SD_KWH
    assert np.std(off_kwh) == pytest.approx(BETWEEN_CARS_SD_KWH, rel=0.3)


def test_the_reserves_of_the_campaign_hold_the_truth_nearly_all():
    rows = list(compare.campaign_rows(comparison(), campaign_truth()))
    assert len(rows) > 25
    assert [row.figure for row in rows if row.inside is None] == []
    missed = [row for row in rows if not row.inside]
    assert len(missed) <= MOST_MISSES * len(rows), missed
    for row in missed:
        assert abs(row.truth - row.value) < FURTHEST_MISS * (row.high - row.low) / 2, row


def test_the_campaign_is_told_to_be_mixed_or_open_and_never_what_it_is_not():
    model = comparison().reserve_model
    assert campaign_truth()["rule"]["model"] == "mixed"
    assert model.cars == 12
    assert model.verdict in ("mixed", "undecided")
    without = {left.vehicle: left.verdict for left in model.without}
    assert len(without) == 12
    assert set(without.values()) <= {"mixed", "undecided"}
    assert without["Campaign car 6"] == "mixed"  # but for the one that failed, it is clear


def test_the_car_that_failed_counts_as_what_it_is():
    (true,) = (one for one in campaign_truth()["sessions"] if one["shut_down_before_zero"])
    assert true["reserve_kwh"] < 0
    (early,) = (one for one in comparison().sessions if one.shut_down_before_zero)
    assert early.session_id == true["session_id"]
    assert early.reserve_kwh.low <= true["reserve_kwh"] <= early.reserve_kwh.high < 0
    assert "One car shut down before zero" in comparison().reserve_model.statement


def test_a_car_driven_again_has_the_same_energy_until_its_software_changed():
    by_car = {repeat.vehicle: repeat for repeat in comparison().repeats}
    assert "energy" not in by_car["Campaign car 3"].apart
    changed = by_car["Campaign car 7"]
    assert "energy" in changed.apart
    assert changed.software == ("1.0", "1.4")
    true_kwh = {one["session_id"]: one["reserve_kwh"] for one in campaign_truth()["sessions"]}
    first, later = (true_kwh[session_id] for session_id in changed.session_ids)
    assert changed.difference_kwh.low <= later - first <= changed.difference_kwh.high
