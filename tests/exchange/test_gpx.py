import re
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import gpxpy
import pytest
from exchange.documents import T_MS, a_document, documents
from exchange.gpx_rules import broken_rules
from hypothesis import HealthCheck, given, settings

from ebbline.exchange.document import check_document, load_document
from ebbline.exchange.gpx import NAMESPACE, track_gpx

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
GPX = "{http://www.topografix.com/GPX/1/1}"


def an_export(document=None):
    return track_gpx(document or a_document())


def test_the_export_is_gpx_1_1_and_a_reader_takes_it():
    read = gpxpy.parse(an_export())
    assert read.version == "1.1"
    assert read.creator == "Ebbline"
    assert read.name == "Invented"
    assert [track.name for track in read.tracks] == ["phone-1"]
    points = [point for track in read.tracks for part in track.segments for point in part.points]
    assert [(point.latitude, point.longitude) for point in points] == [
        (12.0, -38.0),
        (12.0001, -38.0),
        (12.0002, -38.0),
    ]
    assert [point.elevation for point in points] == [None, None, -3.5]


def test_times_are_session_time_in_utc_and_end_in_z():
    """The schema accepts a time without zone (references I2), so it is tested apart."""
    text = an_export()
    times = re.findall(r"<time>(.*?)</time>", text)
    assert len(times) == 3 + 1  # three fixes and the one event that stands
    assert all(time.endswith("Z") for time in times)
    first = gpxpy.parse(text).tracks[0].segments[0].points[0].time
    assert first == datetime.fromtimestamp((T_MS - 250) / 1000, UTC)


def test_speeds_travel_in_a_namespace_of_ours():
    root = ElementTree.fromstring(an_export())
    speeds = [element.text for element in root.iter(f"{{{NAMESPACE}}}speed_mps")]
    assert speeds == ["13.8", "0.0"]


@pytest.mark.parametrize("sample", sorted(SAMPLES.glob("*.ebbline.json")), ids=lambda f: f.stem)
def test_every_sample_keeps_the_rules_of_the_schema(sample):
    assert broken_rules(an_export(load_document(sample.read_bytes()))) == []


@pytest.mark.parametrize(
    ("sound", "broken", "said"),
    [
        ('version="1.1"', 'version="1.0"', "version"),
        ("<ele>-3.5</ele>", "<ele>-3.5e0</ele>", "/ele"),
        ('lat="12.0001"', 'lat="91"', "lat"),
        ('lon="-38.0"', 'lon="180"', "lon"),
        ("</ele>", "</ele><ele>1</ele>", "has 2 ele"),
        ("<trkseg>", "<speed>1</speed><trkseg>", "speed does not belong"),
        ("Z</time>", "z</time>", "/time"),
        ("<time>2026-03-02", "<time>2026-02-30", "/time"),
        ("ebbline:speed_mps", "cmt", "not of another namespace"),
        ("<name>phone-1</name>", "<name>phone-1</name><trkseg/><number>1</number>", "out of order"),
        (' creator="Ebbline"', "", "attributes"),
    ],
)
def test_the_rules_find_what_breaks_them(sound, broken, said):
    text = an_export()
    assert sound in text
    assert any(said in rule for rule in broken_rules(text.replace(sound, broken)))


def test_longitude_180_is_written_as_minus_180():
    """gpx.xsd: longitude is below 180 (references I1)."""
    document = a_document()
    document["breadcrumbs"][0]["lon"] = [180, 180.0, -180.0]
    points = list(ElementTree.fromstring(an_export(document)).iter(f"{GPX}trkpt"))
    assert [float(point.attrib["lon"]) for point in points] == [-180.0] * 3


def test_the_track_is_split_where_fixes_are_missing():
    document = a_document()
    document["breadcrumbs"][0]["t_ms"] = [T_MS, T_MS + 10_000, T_MS + 20_001]
    segments = gpxpy.parse(an_export(document)).tracks[0].segments
    assert [len(segment.points) for segment in segments] == [2, 1]


def test_a_clock_that_was_set_back_leaves_one_line_in_order_of_time():
    document = a_document()
    entry = document["breadcrumbs"][0]
    later = {**entry, "seq": [6, 7, 8], "t_ms": [T_MS - 3_600_000 + i for i in range(3)]}
    document["breadcrumbs"] = [later, entry]  # order in the file is not order of seq
    (segment,) = gpxpy.parse(an_export(document)).tracks[0].segments
    times = [point.time for point in segment.points]
    assert len(times) == 6
    assert times == sorted(times)


def test_each_device_has_a_track():
    document = a_document()
    document["breadcrumbs"].append({**document["breadcrumbs"][0], "device": "phone-2"})
    assert len(gpxpy.parse(an_export(document)).tracks) == 2


def test_an_event_stands_between_the_fixes_around_it():
    document = a_document()
    document["events"] = [
        {"id": "e", "device": "phone-1", "t_ms": T_MS + 500, "kind": "warning", "text": "low <&>"}
    ]
    (waypoint,) = gpxpy.parse(an_export(document)).waypoints
    assert waypoint.latitude == pytest.approx(12.00005, abs=1e-9)
    assert (waypoint.name, waypoint.type) == ("Warning", "warning")
    assert waypoint.description == "low <&>"


def test_an_event_across_the_date_line_stays_there():
    document = a_document()
    document["breadcrumbs"][0]["lon"] = [179.9, -179.9, -179.9]
    document["events"] = [{"id": "e", "device": "phone-1", "t_ms": T_MS + 500, "kind": "note"}]
    (waypoint,) = gpxpy.parse(an_export(document)).waypoints
    assert abs(waypoint.longitude) == pytest.approx(180)


def test_replaced_and_withdrawn_events_are_left_out():
    document = a_document()
    document["events"].append(
        {"id": "e2", "device": "phone-1", "t_ms": T_MS, "kind": "note", "corrects": "e1",
         "withdraws": True}
    )  # fmt: skip
    assert gpxpy.parse(an_export(document)).waypoints == []


def test_an_event_without_fixes_around_it_has_no_place_and_the_file_says_so():
    document = a_document()
    document["events"] = [{"id": "e", "device": "phone-1", "t_ms": T_MS - 1, "kind": "note"}]
    read = gpxpy.parse(an_export(document))
    assert read.waypoints == []
    assert read.description == "1 of 1 events have no place on the track."


def test_characters_that_xml_cannot_carry_are_marked():
    document = a_document()
    document["events"][1]["text"] = "bell \x07 and ]]> and \ufffe"
    (waypoint,) = gpxpy.parse(an_export(document)).waypoints
    assert waypoint.description == "bell \ufffd and ]]> and \ufffd"


def test_a_session_without_fixes_gives_an_empty_gpx():
    document = a_document()
    document["breadcrumbs"] = []
    assert gpxpy.parse(an_export(document)).tracks == []


@pytest.mark.slow
@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(documents())
def test_any_valid_document_gives_valid_gpx_that_a_reader_takes(document):
    check_document(document)
    fixes = sum(len(entry["seq"]) for entry in document.get("breadcrumbs") or ())
    text = an_export(document)
    assert gpxpy.parse(text).get_points_no() == fixes
    assert broken_rules(text) == []
