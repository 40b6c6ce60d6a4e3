"""GPX tracks of others: read whole, or refused with the place; hostile XML does no harm."""

from __future__ import annotations

import contextlib
import time
from typing import Any

import pytest
from exchange.documents import a_document
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange import session_file
from ebbline.exchange.gpx import track_gpx
from ebbline.exchange.gpx_reading import read_gpx
from ebbline.exchange.recording import MAX_RECORDING_BYTES, Origin, Recording

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="test" '
    'xmlns="http://www.topografix.com/GPX/1/1" xmlns:own="urn:test:own">'
)
T0 = 1_772_460_000_000  # 2026-03-02T14:00:00Z


def point(second: int, *, lat: str = "12.0", lon: str = "-38.0", inner: str = "") -> str:
    stamp = f"<time>2026-03-02T14:00:{second:02d}Z</time>"
    return f'<trkpt lat="{lat}" lon="{lon}">{inner or stamp}</trkpt>'


def track(*segments: str, name: str = "Run 1") -> str:
    body = "".join(f"<trkseg>{segment}</trkseg>" for segment in segments)
    return f"<trk><name>{name}</name>{body}</trk>"


def read(body: str, zone: str | None = None, device: str | None = None) -> Recording:
    data = f"{HEAD}{body}</gpx>".encode()
    return read_gpx(data, Origin.of(data, "morning.gpx", device), zone)


def refusal(body: str, zone: str | None = None) -> InputError:
    with pytest.raises(InputError) as refused:
        read(body, zone)
    return refused.value


def test_tracks_become_devices_and_segments_stay_apart() -> None:
    evidence = read(track(point(0) + point(1), point(30)) + track(point(5), name="Other"))
    entries = evidence.breadcrumbs
    assert [entry["seq"] for entry in entries] == [[0, 1], [2], [0]]
    assert [entry["t_ms"] for entry in entries] == [[T0, T0 + 1000], [T0 + 30_000], [T0 + 5000]]
    assert entries[0]["device"] == entries[1]["device"] != entries[2]["device"]
    assert entries[0]["device"].startswith("Run 1 ")
    assert [entry["source"]["segment"] for entry in entries] == [0, 1, 0]
    assert evidence.notes == []


def test_two_tracks_of_one_name_are_two_devices() -> None:
    one, other = read(track(point(0)) + track(point(0))).breadcrumbs
    assert one["device"] != other["device"]


def test_the_same_file_gives_the_same_devices_and_another_file_others() -> None:
    first, again = read(track(point(0))), read(track(point(0)))
    assert first == again
    assert read(track(point(1))).breadcrumbs[0]["device"] != first.breadcrumbs[0]["device"]


def test_offsets_fractions_and_elevation_are_taken() -> None:
    inner = "<ele>431.5</ele><time>2026-03-02T15:00:00.25+01:00</time>"
    (entry,) = read(track(point(0) + point(0, inner=inner))).breadcrumbs
    assert entry["t_ms"] == [T0, T0 + 250]
    assert entry["altitude_m"] == [None, 431.5]


def test_a_time_without_a_zone_is_refused_unless_its_zone_is_stated() -> None:
    body = track(point(0, inner="<time>2026-03-02T15:00:00</time>"))
    refused = refusal(body)
    assert refused.where == "tracks[0].segments[0].points[0].time"
    assert "zone" in refused.problem
    assert read(body, "Europe/Vienna").breadcrumbs[0]["t_ms"] == [T0]
    assert refusal(body, "Europe/Nowhere").where == "zone"


@pytest.mark.parametrize("local", ["2026-10-25T02:30:00", "2026-03-29T02:30:00"])
def test_an_hour_that_happens_twice_or_never_is_refused(local: str) -> None:
    """European summer time ends on the last Sunday of October and begins on that of March."""
    refused = refusal(track(point(0, inner=f"<time>{local}</time>")), "Europe/Vienna")
    assert "twice or never" in refused.problem


@pytest.mark.parametrize(
    ("body", "where"),
    [
        (track(point(0), point(0) + point(1, lat="91")), "tracks[0].segments[1].points[1].lat"),
        (track(point(0)) + track(point(0, lon="-180.5")), "tracks[1].segments[0].points[0].lon"),
        (track(point(0, lat="north")), "tracks[0].segments[0].points[0].lat"),
        (track(point(0, lat="NaN")), "tracks[0].segments[0].points[0].lat"),
        (track('<trkpt lat="1"/>'), "tracks[0].segments[0].points[0].lon"),
        (track(point(0) + '<trkpt lat="1" lon="2"/>'), "tracks[0].segments[0].points[1].time"),
        (track(point(0, inner="<time>noon</time>")), "tracks[0].segments[0].points[0].time"),
        (
            track(point(0, inner="<time>2026-13-02T14:00:00Z</time>")),
            "tracks[0].segments[0].points[0].time",
        ),
        (
            track(point(0, inner="<time>2026-03-02T14:00:00Z PM</time>")),
            "tracks[0].segments[0].points[0].time",
        ),
        (track(point(0, inner="<ele>high</ele>")), "tracks[0].segments[0].points[0].ele"),
        ('<wpt lat="1" lon="2"><name>x</name></wpt>' + track(point(0)), "waypoints[0].time"),
        ('<wpt lat="-91" lon="2"/>' + track(point(0)), "waypoints[0].lat"),
        ("", "$"),
        ("<trk><trkseg></trkseg></trk>", "$"),
        ("<trk><trkseg>", "tracks[0].segments[0]"),
        ("<trk></gpx>", "tracks[0]"),
        ("<a>" * 1000 + "</a>" * 1000, "$"),
    ],
)
def test_what_is_wrong_is_refused_with_its_place(body: str, where: str) -> None:
    assert refusal(body).where == where


@pytest.mark.parametrize(
    "data",
    [
        b"<gpx version='1.1'/>",
        b"<kml xmlns='http://www.topografix.com/GPX/1/1'/>",
        b"<gpx xmlns='http://www.topografix.com/GPX/1/0' version='1.0'/>",
        b"<",
        b"",
        b"no XML",
        b'<?xml version="1.0" encoding="ISO-8859-1"?>' + HEAD[38:].encode() + b"</gpx>",
    ],
)
def test_what_is_no_gpx_1_1_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match=r"^\$: "):
        read_gpx(data, Origin.of(data, "x.gpx"))


def test_elements_with_a_prefix_are_refused_not_passed_over() -> None:
    data = (
        '<g:gpx xmlns:g="http://www.topografix.com/GPX/1/1" version="1.1" creator="t">'
        f"{track(point(0))}</g:gpx>".replace("<trk", "<g:trk").replace("</trk", "</g:trk")
    ).encode()
    with pytest.raises(InputError, match="prefix"):
        read_gpx(data, Origin.of(data, "x.gpx"))


def test_an_entity_bomb_is_refused_before_it_goes_off() -> None:
    """Nested entities that would expand to three gigabytes."""
    entities = '<!ENTITY a0 "lol">' + "".join(
        f'<!ENTITY a{k} "{f"&a{k - 1};" * 10}">' for k in range(1, 10)
    )
    data = f"<?xml version='1.0'?><!DOCTYPE gpx [{entities}]><gpx>&a9;</gpx>".encode()
    start = time.process_time()
    with pytest.raises(InputError, match="DOCTYPE"):
        read_gpx(data, Origin.of(data, "x.gpx"))
    assert time.process_time() - start < 1.0


@pytest.mark.parametrize(
    "filler",
    [f"<name>{' xmlns' * 200_000}</name>", f"<!--{' xmlns' * 200_000}-->",
     "".join(f'<own:a xmlns:p{k}="urn:{k}"/>' for k in range(20_000))],
    ids=["text", "comment", "declarations"],
)  # fmt: skip
def test_a_file_made_to_keep_us_busy_is_refused_at_once(filler: str) -> None:
    start = time.process_time()
    assert refusal(track(point(0)) + filler).where == "$"
    assert time.process_time() - start < 2.0


def test_a_file_of_the_disk_is_never_read() -> None:
    data = b'<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx>&x;</gpx>'
    with pytest.raises(InputError, match="DOCTYPE"):
        read_gpx(data, Origin.of(data, "x.gpx"))


def test_a_hundred_megabytes_are_refused_unread() -> None:
    data = HEAD.encode() + b" " * 100_000_000
    assert len(data) > MAX_RECORDING_BYTES
    with pytest.raises(TooLargeError):
        read_gpx(data, Origin("x.gpx", "0" * 64))


@pytest.mark.parametrize(
    ("extension", "speed_mps"),
    [
        ("<own:speed_mps>10.5</own:speed_mps>", 10.5),
        ("<own:speed_kmh>36</own:speed_kmh>", 10.0),
        ('<own:speed unit="km/h">36</own:speed>', 10.0),
        ("<own:all><own:speed_mps>3</own:speed_mps></own:all>", 3.0),
    ],
)
def test_a_speed_is_taken_where_its_unit_is_plain(extension: str, speed_mps: float) -> None:
    stamp = "<time>2026-03-02T14:00:00Z</time>"
    body = track(point(0, inner=f"{stamp}<extensions>{extension}</extensions>") + point(1))
    (entry,) = read(body).breadcrumbs
    assert entry["speed_mps"] == [pytest.approx(speed_mps), None]


@pytest.mark.parametrize(
    "extension", ["<own:speed>10</own:speed>", "<own:accuracy>4</own:accuracy>"]
)
def test_a_figure_without_a_unit_is_left_out_and_said(extension: str) -> None:
    stamp = "<time>2026-03-02T14:00:00Z</time>"
    evidence = read(track(point(0, inner=f"{stamp}<extensions>{extension}</extensions>")))
    assert not {"speed_mps", "accuracy_m"} & evidence.breadcrumbs[0].keys()
    assert len(evidence.notes) == 1
    assert "no unit" in evidence.notes[0]


def test_hdop_is_kept_as_it_is_and_no_accuracy_is_made_of_it() -> None:
    evidence = read(track(point(0, inner="<time>2026-03-02T14:00:00Z</time><hdop>0.9</hdop>")))
    assert evidence.breadcrumbs[0]["hdop"] == [0.9]
    assert "accuracy_m" not in evidence.breadcrumbs[0]
    assert any("hdop" in note for note in evidence.notes)


def test_waypoints_become_notes_with_the_same_id_each_time() -> None:
    body = (
        '<wpt lat="12" lon="-38"><time>2026-03-02T14:00:09Z</time><name>Pit</name>'
        f"<desc>gate open</desc></wpt>{track(point(0))}"
    )
    (event,), (again,) = read(body).events, read(body).events
    assert event == again
    assert (event["kind"], event["text"], event["t_ms"]) == ("note", "Pit: gate open", T0 + 9000)
    assert event["device"] == read(body).breadcrumbs[0]["device"]


def test_times_that_run_backwards_begin_a_new_piece_and_lose_nothing() -> None:
    evidence = read(track(point(5) + point(6) + point(2) + point(3)))
    assert [entry["seq"] for entry in evidence.breadcrumbs] == [[0, 1], [2, 3]]
    assert any("backwards" in note for note in evidence.notes)


def test_segments_in_another_order_than_their_times_are_put_in_order_and_that_is_said() -> None:
    """Nobody set a clock back: the file only lists its segments the other way round."""
    evidence = read(track(point(30) + point(31), point(0) + point(1)))
    first, second = evidence.breadcrumbs
    assert first["t_ms"] == [T0, T0 + 1000]
    assert second["t_ms"] == [T0 + 30_000, T0 + 31_000]
    assert (first["seq"], second["seq"]) == ([0, 1], [2, 3])
    assert (first["source"]["segment"], second["source"]["segment"]) == (1, 0)
    assert any("order of time" in note for note in evidence.notes)


def test_segments_whose_times_overlap_stay_in_the_files_order() -> None:
    evidence = read(track(point(10) + point(20), point(5) + point(15)))
    assert [entry["t_ms"][0] for entry in evidence.breadcrumbs] == [T0 + 10_000, T0 + 5_000]


def test_routes_are_not_taken_and_that_is_said() -> None:
    evidence = read(f'<rte><rtept lat="1" lon="2"/></rte>{track(point(0))}')
    assert any("route" in note for note in evidence.notes)


def test_our_own_gpx_comes_back_as_the_fixes_it_was_made_of() -> None:
    document = a_document()
    data = track_gpx(document).encode()
    evidence = read_gpx(data, Origin.of(data, "ours.gpx"))
    original = document["breadcrumbs"][0]
    offset_ms = document["devices"][0]["clock_offset_ms"]

    def column(name: str) -> list[Any]:
        return [value for entry in evidence.breadcrumbs for value in entry[name]]

    assert column("t_ms") == [t_ms + offset_ms for t_ms in original["t_ms"]]
    assert column("lat") == pytest.approx(original["lat"])
    assert column("lon") == pytest.approx(original["lon"])
    assert column("speed_mps") == original["speed_mps"]
    assert column("accuracy_m") == original["accuracy_m"]


def test_what_is_read_passes_the_door_of_the_session_file() -> None:
    evidence = read(track(point(0) + point(1), point(30)))
    document = {**a_document(), "breadcrumbs": evidence.breadcrumbs}
    session_file.check_document(document)


_GOOD = f"{HEAD}{track(point(0) + point(1))}</gpx>".encode()


@settings(max_examples=300)
@given(st.data())
def test_no_damage_to_the_bytes_raises_anything_but_a_refusal(data: st.DataObject) -> None:
    damaged = bytearray(_GOOD)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(damaged) - 1))
        damaged[at : at + data.draw(st.integers(0, 6))] = data.draw(st.binary(max_size=4))
    with contextlib.suppress(InputError):
        read_gpx(bytes(damaged), Origin.of(bytes(damaged), "x.gpx"))
