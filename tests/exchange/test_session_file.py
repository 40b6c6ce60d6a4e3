import json
import math
import time
from copy import deepcopy
from typing import Any

import numpy as np
import pytest
from exchange.documents import ID, T_MS, a_document, at, documents
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ebbline.errors import EbblineError, InputError, TooLargeError
from ebbline.exchange import session_file
from ebbline.records.setup import Delay

MISSING = object()


def loaded(document: Any) -> dict[str, Any]:
    return session_file.load_document(json.dumps(document).encode())


def refusal(data: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        session_file.load_document(data)
    return caught.value


# --- what is taken -------------------------------------------------------------------------------


def test_a_document_comes_back_as_it_was():
    assert loaded(a_document()) == a_document()


def same(left: Any, right: Any) -> bool:
    """Equal, and 1, 1.0 and true told apart."""
    if type(left) is not type(right):
        return False
    if isinstance(left, dict):
        return list(left) == list(right) and all(same(left[key], right[key]) for key in left)
    if isinstance(left, list):
        return len(left) == len(right) and all(map(same, left, right))
    return bool(left == right)


@pytest.mark.slow
@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(documents())
def test_any_valid_document_loses_nothing_by_being_read_and_written(document):
    data = json.dumps(document).encode()
    read = session_file.load_document(data)
    assert same(read, document)
    assert same(json.loads(session_file.dump_document(read)), document)
    session = session_file.to_session(read)
    assert len(session.events) == len(document.get("events") or ())
    assert len(session.readings) == len(document.get("readings") or ())


def test_only_format_version_and_session_id_are_needed():
    bare = {"format": "ebbline-session", "version": 1, "session": {"id": ID}}
    session = session_file.to_session(loaded(bare))
    assert session.id == ID
    assert session.events == session.readings == session.breadcrumbs == ()


def test_a_byte_order_mark_is_no_offence():
    data = b"\xef\xbb\xbf" + json.dumps(a_document()).encode()
    assert session_file.load_document(data) == a_document()


def test_the_same_document_gives_the_same_bytes():
    assert session_file.dump_document(a_document()) == session_file.dump_document(a_document())


@pytest.mark.slow
def test_half_a_million_fixes_are_read_without_walking_them_one_by_one():
    """A quadratic reader would need minutes; a limit of seconds tells the two apart."""
    n = 500_000
    document = a_document()
    document["breadcrumbs"] = [
        {
            "device": "phone-1",
            "seq": list(range(n)),
            "t_ms": list(range(T_MS, T_MS + n)),
            "lat": [12.5] * n,
            "lon": [-38.5] * n,
            "speed_mps": [1.5, None] * (n // 2),
        }
    ]
    data = json.dumps(document).encode()
    start = time.process_time()
    session = session_file.to_session(session_file.load_document(data))
    assert time.process_time() - start < 10
    assert session.breadcrumbs[0].t_ms[-1] == T_MS + n - 1


# --- the typed view ------------------------------------------------------------------------------


def test_the_view_holds_what_the_document_says():
    session = session_file.to_session(loaded(a_document()))
    assert session.vehicle.pack.usable_kwh == 58.0
    assert session.vehicle.road_load is not None
    assert session.vehicle.road_load.c_n_per_mps2 == 0.42
    assert session.protocol.speed_band_kmh == (50, 90)
    assert session.protocol.tap_delay == Delay(0.9, 0.4)
    assert session.protocol.zero_basis == "zero_soc"
    assert session.protocol.charging_efficiency == 0.93
    assert session.course.gate is not None
    assert session.course.gate.heading_deg == 90.0
    assert session.devices[0].clock_offset_ms == -250
    assert session.readings[0].rounding == "down"
    assert session.readings[1].rounding == "nearest"
    assert session.readings[1].value is None


def test_null_in_a_column_is_nan_in_the_view_and_null_in_the_document():
    document = loaded(a_document())
    crumbs = session_file.to_session(document).breadcrumbs[0]
    np.testing.assert_array_equal(crumbs.speed_mps, [13.8, np.nan, 0.0])
    np.testing.assert_array_equal(crumbs.altitude_m, [np.nan, np.nan, -3.5])
    assert crumbs.seq.dtype == crumbs.t_ms.dtype == np.int64
    assert document["breadcrumbs"][0]["speed_mps"] == [13.8, None, 0]


def test_a_column_that_is_absent_is_nan_throughout():
    document = a_document()
    del document["breadcrumbs"][0]["accuracy_m"]
    crumbs = session_file.to_session(loaded(document)).breadcrumbs[0]
    assert np.isnan(crumbs.accuracy_m).all()


def test_an_event_of_unknown_kind_is_kept_and_seen_as_a_note():
    document = a_document()
    document["events"][0]["kind"] = "something_new"
    assert loaded(document)["events"][0]["kind"] == "something_new"
    assert session_file.to_session(loaded(document)).events[0].kind == "note"


def test_only_a_warning_has_a_class():
    document = a_document()
    for event in document["events"]:
        event["class"] = "stop_soon"
    first, *others = session_file.to_session(loaded(document)).events
    assert (first.kind, first.warning_class) == ("warning", "stop_soon")
    assert {event.warning_class for event in others} == {None}


@pytest.mark.parametrize(
    ("delay", "seen"),
    [
        (None, None),
        ({"mean": 0.2, "sd": 0.1}, Delay(0.2, 0.1)),
        (0.3, Delay(0.3, 0.4)),
        (0, Delay(0, 0.4)),
    ],
)
def test_a_delay_given_as_a_number_takes_the_spread_of_the_protocol(delay, seen):
    document = a_document()
    document["events"][0]["tap_delay_s"] = delay
    assert session_file.to_session(loaded(document)).events[0].tap_delay == seen


def test_a_device_that_is_used_but_not_declared_is_accepted():
    document = a_document()
    document["devices"] = []
    assert session_file.to_session(loaded(document)).devices == ()


# --- what is refused, and where ------------------------------------------------------------------

BREADCRUMBS = ("breadcrumbs", 0)
REFUSED: list[tuple[tuple[str | int, ...], Any, str]] = [
    (("format",), "other", "format"),
    (("format",), MISSING, "format"),
    (("version",), 2, "version"),
    (("version",), True, "version"),
    (("version",), "1", "version"),
    (("session",), MISSING, "session"),
    (("session",), [], "session"),
    (("session", "id"), MISSING, "session.id"),
    (("session", "id"), None, "session.id"),
    (("session", "id"), "not-a-uuid", "session.id"),
    (("session", "id"), ID.replace("-", ""), "session.id"),
    (("session", "started_at"), "2026-03-02T15:04:05", "session.started_at"),
    (("session", "started_at"), "2026-03-02 15:04:05Z", "session.started_at"),
    (("session", "started_at"), "2026-02-30T15:04:05Z", "session.started_at"),
    (("session", "started_at"), 1772460000000, "session.started_at"),
    (("session", "time_zone"), "Nowhere/Land", "session.time_zone"),
    (("session", "time_zone"), "../../etc/passwd", "session.time_zone"),
    (("session", "time_zone"), "", "session.time_zone"),
    (("session", "title"), 5, "session.title"),
    (("vehicle",), "car", "vehicle"),
    (("vehicle", "odometer_km"), -1, "vehicle.odometer_km"),
    (("vehicle", "pack", "usable_kwh"), 0, "vehicle.pack.usable_kwh"),
    (("vehicle", "pack", "usable_kwh"), "58", "vehicle.pack.usable_kwh"),
    (("vehicle", "pack", "series_cells"), 96.5, "vehicle.pack.series_cells"),
    (("vehicle", "road_load", "a_n"), MISSING, "vehicle.road_load.a_n"),
    (("vehicle", "road_load", "a_n"), True, "vehicle.road_load.a_n"),
    (
        ("vehicle", "road_load", "driveline_efficiency"),
        1.1,
        "vehicle.road_load.driveline_efficiency",
    ),
    (("conditions", "full_charge_before"), 1, "conditions.full_charge_before"),
    (("protocol", "tap_delay_s", "sd"), -0.1, "protocol.tap_delay_s.sd"),
    (("protocol", "tap_delay_s", "mean"), MISSING, "protocol.tap_delay_s.mean"),
    (("protocol", "speed_band_kmh"), [90, 50], "protocol.speed_band_kmh"),
    (("protocol", "speed_band_kmh"), [50], "protocol.speed_band_kmh"),
    (("protocol", "speed_band_kmh", 1), "90", "protocol.speed_band_kmh[1]"),
    (("protocol", "zero_basis"), "whenever", "protocol.zero_basis"),
    (("protocol", "charging_efficiency"), 1.01, "protocol.charging_efficiency"),
    (("course", "surveyed_lap_m"), 0, "course.surveyed_lap_m"),
    (("course", "surveyed_lap_sd_m"), -1, "course.surveyed_lap_sd_m"),
    (("course", "gate", "lat"), 91, "course.gate.lat"),
    (("course", "gate", "half_width_m"), 0, "course.gate.half_width_m"),
    (("devices",), {}, "devices"),
    (("devices", 0), None, "devices[0]"),
    (("devices", 0, "id"), "", "devices[0].id"),
    (("devices", 0, "clock_offset_sd_ms"), -1, "devices[0].clock_offset_sd_ms"),
    (("devices", 0, "clock_offset_ms"), 1e300, "devices[0].clock_offset_ms"),
    (("breadcrumbs",), {}, "breadcrumbs"),
    (BREADCRUMBS, 1, "breadcrumbs[0]"),
    ((*BREADCRUMBS, "device"), MISSING, "breadcrumbs[0].device"),
    ((*BREADCRUMBS, "seq"), MISSING, "breadcrumbs[0].seq"),
    ((*BREADCRUMBS, "seq", 1), 0, "breadcrumbs[0].seq[1]"),
    ((*BREADCRUMBS, "seq", 0), -1, "breadcrumbs[0].seq[0]"),
    ((*BREADCRUMBS, "seq", 2), 2.0, "breadcrumbs[0].seq[2]"),
    ((*BREADCRUMBS, "seq", 2), 10**400, "breadcrumbs[0].seq[2]"),
    ((*BREADCRUMBS, "t_ms", 2), T_MS, "breadcrumbs[0].t_ms[2]"),
    ((*BREADCRUMBS, "t_ms", 0), T_MS // 1000, "breadcrumbs[0].t_ms[0]"),
    ((*BREADCRUMBS, "t_ms", 2), T_MS * 1000, "breadcrumbs[0].t_ms[2]"),
    ((*BREADCRUMBS, "t_ms", 1), None, "breadcrumbs[0].t_ms[1]"),
    ((*BREADCRUMBS, "t_ms", 1), True, "breadcrumbs[0].t_ms[1]"),
    ((*BREADCRUMBS, "t_ms"), [T_MS], "breadcrumbs[0].t_ms"),
    ((*BREADCRUMBS, "lat"), MISSING, "breadcrumbs[0].lat"),
    ((*BREADCRUMBS, "lat"), [12.0, 12.0], "breadcrumbs[0].lat"),
    ((*BREADCRUMBS, "lat", 2), 91, "breadcrumbs[0].lat[2]"),
    ((*BREADCRUMBS, "lat", 1), None, "breadcrumbs[0].lat[1]"),
    ((*BREADCRUMBS, "lat", 1), math.nan, "breadcrumbs[0].lat[1]"),
    ((*BREADCRUMBS, "lon", 0), -180.5, "breadcrumbs[0].lon[0]"),
    ((*BREADCRUMBS, "accuracy_m", 0), -1, "breadcrumbs[0].accuracy_m[0]"),
    ((*BREADCRUMBS, "accuracy_m", 0), math.inf, "breadcrumbs[0].accuracy_m[0]"),
    ((*BREADCRUMBS, "accuracy_m"), [], "breadcrumbs[0].accuracy_m"),
    ((*BREADCRUMBS, "speed_mps", 0), -0.1, "breadcrumbs[0].speed_mps[0]"),
    ((*BREADCRUMBS, "speed_mps", 0), "13", "breadcrumbs[0].speed_mps[0]"),
    ((*BREADCRUMBS, "speed_mps", 0), False, "breadcrumbs[0].speed_mps[0]"),
    ((*BREADCRUMBS, "heading_deg", 2), 360.5, "breadcrumbs[0].heading_deg[2]"),
    ((*BREADCRUMBS, "altitude_m", 2), 10**400, "breadcrumbs[0].altitude_m[2]"),
    ((*BREADCRUMBS, "altitude_m", 2), 2**70, "breadcrumbs[0].altitude_m[2]"),
    ((*BREADCRUMBS, "page", 1), 7, "breadcrumbs[0].page[1]"),
    ((*BREADCRUMBS, "page", 1), "\ud800", "breadcrumbs[0].page[1]"),
    (("events",), "none", "events"),
    (("events", 1), [], "events[1]"),
    (("events", 1, "id"), MISSING, "events[1].id"),
    (("events", 1, "id"), "x" * 101, "events[1].id"),
    (("events", 1, "kind"), MISSING, "events[1].kind"),
    (("events", 1, "kind"), 3, "events[1].kind"),
    (("events", 1, "device"), MISSING, "events[1].device"),
    (("events", 1, "t_ms"), MISSING, "events[1].t_ms"),
    (("events", 1, "t_ms"), float(T_MS), "events[1].t_ms"),
    (("events", 1, "t_ms"), 0, "events[1].t_ms"),
    (("events", 1, "t_ms"), 7_258_118_400_000, "events[1].t_ms"),
    (("events", 1, "value"), True, "events[1].value"),
    (("events", 1, "value"), -1, "events[1].value"),
    (("events", 1, "unit"), "m/s", "events[1].unit"),
    (("events", 1, "tap_delay_s"), {"mean": 1, "sd": -1}, "events[1].tap_delay_s.sd"),
    (("events", 1, "tap_delay_s"), "1", "events[1].tap_delay_s"),
    (("events", 1, "corrects"), "e1", "events[1].corrects"),
    (("events", 0, "corrects"), "e1", "events[0].corrects"),
    (("events", 0, "withdraws"), True, "events[0].withdraws"),
    (("readings", 0, "quantity"), "trip_joy", "readings[0].quantity"),
    (("readings", 0, "unit"), "km", "readings[0].unit"),
    (("readings", 0, "unit"), MISSING, "readings[0].unit"),
    (("readings", 0, "value"), None, "readings[0].value"),
    (("readings", 0, "value"), MISSING, "readings[0].value"),
    (("readings", 0, "rounding"), "up", "readings[0].rounding"),
    (("readings", 0, "resolution"), -0.1, "readings[0].resolution"),
    (("readings", 0, "resolution"), 0, "readings[0].resolution"),
    (("readings", 0, "photo"), "AB" * 32, "readings[0].photo"),
    (("photos", 0, "sha256"), "../../x", "photos[0].sha256"),
    (("x-ours",), {"deep": [1, {"er": math.nan}]}, "x-ours.deep[1].er"),
    (("x-ours",), [0, 2**64], "x-ours[1]"),
    (("x-ours",), [None, True, 0.5, math.nan], "x-ours[3]"),
    (("x-ours",), [None, "a", "\ud800"], "x-ours[2]"),
    (("x-ours",), ["a", 1, [math.inf]], "x-ours[2][0]"),
    (("events", 0, "x-ours"), ["ok", "\udc00"], "events[0].x-ours[1]"),
]


@pytest.mark.parametrize(("path", "value", "where"), REFUSED)
def test_what_is_wrong_is_refused_with_its_place(path, value, where):
    document = deepcopy(a_document())
    parent = at(document, path[:-1])
    if value is MISSING:
        del parent[path[-1]]
    else:
        parent[path[-1]] = value
    assert refusal(json.dumps(document).encode()).where == where


def test_a_setup_names_places_in_its_own_terms():
    with pytest.raises(InputError) as caught:
        session_file.check_setup({"session": {"id": "x"}}, "setup")
    assert caught.value.where == "setup.session.id"


@pytest.mark.parametrize("key", ["format", "version", "breadcrumbs", "events", "readings"])
def test_a_setup_holds_no_records(key):
    with pytest.raises(InputError) as caught:
        session_file.check_setup({"session": {"id": ID}, key: []}, "$")
    assert caught.value.where == key


@pytest.mark.parametrize("kind", ["events", "readings", "photos"])
def test_two_records_of_one_id_are_refused(kind):
    document = a_document()
    document[kind].append(deepcopy(document[kind][0]))
    key = "sha256" if kind == "photos" else "id"
    last = len(document[kind]) - 1
    assert refusal(json.dumps(document).encode()).where == f"{kind}[{last}].{key}"


def test_two_devices_of_one_id_are_refused():
    document = a_document()
    document["devices"].append({"id": "phone-1"})
    assert refusal(json.dumps(document).encode()).where == "devices[1].id"


def test_a_number_of_a_fix_must_not_come_back_in_a_later_entry_of_the_device():
    document = a_document()
    later = deepcopy(document["breadcrumbs"][0])
    later["seq"] = [6, 7, 8]
    document["breadcrumbs"].append(later)
    loaded(document)
    later["seq"] = [3, 5, 8]
    assert refusal(json.dumps(document).encode()).where == "breadcrumbs[1].seq[1]"
    later["device"] = "phone-2"
    loaded(document)


def test_a_clock_set_back_begins_a_new_entry():
    document = a_document()
    later = deepcopy(document["breadcrumbs"][0])
    later["seq"], later["t_ms"] = [6, 7, 8], [T_MS - 3_600_000] * 3
    document["breadcrumbs"].append(later)
    assert len(session_file.to_session(loaded(document)).breadcrumbs) == 2


def test_corrections_that_go_round_in_a_circle_are_refused():
    document = a_document()
    events = [dict(document["events"][0], id=f"e{i}", corrects=f"e{(i + 1) % 3}") for i in range(3)]
    document["events"] = events
    refused = refusal(json.dumps(document).encode())
    assert refused.where.endswith("].corrects")
    assert "leads back" in refused.problem


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"", "line 1, column 1"),
        (b"{", "is not JSON"),
        (b'{"a": 1,}', "is not JSON"),
        (b"\xff\xfe", "byte 0"),
        (b"PK\x03\x04", "is not JSON"),
        (b"[]", "an object"),
        (b"NaN", "an object"),
        (b"[" * 200_000, "nested"),
        (b'{"a":' * 200_000, "nested"),
        (b"9" * 10_000, "digits"),
        (b'{"a": 1, "b": {"c": 1, "c": 2}}', "the key 'c' twice"),
    ],
)
def test_what_is_no_document_at_all_is_refused_as_a_whole(data, problem):
    refused = refusal(data)
    assert refused.where == "$"
    assert problem in refused.problem


def test_nesting_deeper_than_any_session_needs_is_refused():
    document = a_document()
    deep: Any = 1
    for _ in range(100):
        deep = [deep]
    document["x-deep"] = deep
    assert "nested" in refusal(json.dumps(document).encode()).problem


def test_more_bytes_than_we_take_are_refused_before_reading_them(monkeypatch):
    from ebbline.exchange import document

    data = json.dumps(a_document()).encode()
    monkeypatch.setattr(document, "MAX_FILE_BYTES", len(data))
    session_file.load_document(data)
    with pytest.raises(TooLargeError):
        session_file.load_document(data + b" ")


@pytest.mark.parametrize("kind", ["breadcrumbs", "events", "readings", "photos"])
def test_more_records_than_a_session_can_have_are_refused_unread(kind):
    document = a_document()
    document[kind] = [0] * 50_001
    refused = refusal(json.dumps(document).encode())
    assert isinstance(refused, TooLargeError)
    assert refused.where == kind


def test_two_hundred_megabytes_of_noise_are_refused():
    with pytest.raises(TooLargeError):
        session_file.load_document(bytes(200 * 1024 * 1024))


# --- nothing but a refusal ever comes of it ------------------------------------------------------

JUNK = st.sampled_from(
    [
        None, True, False, 0, -1, 1, 0.5, -0.0, 1e308, math.nan, math.inf, 2**63, 2**64, -(10**30),
        10**400, "", "a", "\ud800", "\x00", "e0", [], [[]], [None], [1, 2], {}, {"mean": 1}, T_MS,
        {"a": {"b": []}}, [True], ["x", 1], "2026-03-02T15:04:05Z",
    ]
)  # fmt: skip


def every_path(part: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [path] if path else []
    steps = part.items() if isinstance(part, dict) else enumerate(part)
    for step, inner in steps:
        if isinstance(inner, (dict, list)):
            found += every_path(inner, (*path, step))
        else:
            found.append((*path, step))
    return found


@pytest.mark.slow
@settings(max_examples=600)
@given(st.lists(st.tuples(st.sampled_from(every_path(a_document())), JUNK), max_size=4))
def test_no_change_to_a_document_ever_raises_anything_but_a_refusal(changes):
    document = a_document()
    for path, junk in changes:
        try:
            at(document, path[:-1])[path[-1]] = deepcopy(junk)
        except (KeyError, IndexError, TypeError):  # an earlier change took that place away
            continue
    data = json.dumps(document).encode()
    try:
        read = session_file.load_document(data)
    except EbblineError:
        return
    session_file.to_session(read)
    assert same(json.loads(session_file.dump_document(read)), read)


@settings(max_examples=300)
@given(st.data())
def test_no_damage_to_the_bytes_ever_raises_anything_but_a_refusal(data):
    text = bytearray(json.dumps(a_document()).encode())
    for _ in range(data.draw(st.integers(1, 4))):
        at_byte = data.draw(st.integers(0, len(text) - 1))
        text[at_byte : at_byte + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
    try:
        session_file.load_document(bytes(text))
    except EbblineError:
        return


@settings(max_examples=200)
@given(st.binary(max_size=200))
def test_no_bytes_at_all_raise_anything_but_a_refusal(data):
    for load in (session_file.load_document, session_file.load_archive):
        with pytest.raises(EbblineError):
            load(data)


@settings(max_examples=200)
@given(JUNK | st.dictionaries(st.sampled_from(["id", "device", "t_ms", "kind", "unit"]), JUNK))
def test_no_single_piece_ever_raises_anything_but_a_refusal(piece):
    for check in (
        session_file.check_event,
        session_file.check_reading,
        session_file.check_breadcrumbs,
        session_file.check_photo,
        session_file.check_setup,
    ):
        with pytest.raises(EbblineError):
            check(piece, "here")


def test_a_correction_may_come_without_its_original() -> None:
    document = a_document()
    document["events"][1]["corrects"] = "sent earlier"
    document["readings"][1]["corrects"] = "sent earlier"
    assert session_file.load_document(session_file.dump_document(document)) == document
