"""Captions, chapters, data and cards: timed to the film, and read by an outside parser."""

import html
import io
import json
import zipfile
from itertools import pairwise
from typing import Any

import pytest
import webvtt
from PIL import Image
from report.subjects import FULL, LAPS, document_of, sample, subject_of

from ebbline.errors import InputError, NotFoundError
from ebbline.report import moments as moments_module
from ebbline.report.captions import captions, captions_srt
from ebbline.report.cards import HEIGHT, WIDTH, cards
from ebbline.report.chapters import LEAST_S as LEAST_CHAPTER_S
from ebbline.report.chapters import chapter_list, chapters
from ebbline.report.data_track import data_track
from ebbline.report.film import camera_of, cameras_of
from ebbline.report.moments import moments
from ebbline.report.pacing import Spoken, paced
from ebbline.report.pieces import everything, make, missing_of, piece_of, pieces_of
from ebbline.report.subject import Subject
from ebbline.report.webvtt import Cue, timestamp
from ebbline.report.webvtt import webvtt as write_webvtt

ZERO_TAP_MS = 1772444941539
EXACT = {"mean": 0.0, "sd": 0.0}  # a mark from the film itself, nobody tapped it


def filmed(*marks: tuple[int, str | None, float | None], name: str = FULL) -> Subject:
    document = document_of(name)
    device = document["events"][0]["device"] if document["events"] else "phone-1"
    for number, (t_ms, camera, second) in enumerate(marks):
        document["events"].append(
            {"id": f"mark-{number}", "device": device, "t_ms": t_ms, "kind": "film_sync",
             "text": camera, "value": second, "unit": "s", "tap_delay_s": EXACT}
        )  # fmt: skip
    return subject_of(document)


def cues(data: bytes) -> list[Any]:
    return list(webvtt.from_buffer(io.BytesIO(data)))


@pytest.fixture(scope="module")
def subject() -> Subject:
    return filmed((ZERO_TAP_MS - 60_000, "dash", 30.0), (ZERO_TAP_MS + 900_000, "boot", 10.0))


def test_a_moment_is_where_the_mark_puts_it(subject: Subject):
    dash = camera_of(subject, "dash")
    offset_ms = subject.document["devices"][0]["clock_offset_ms"]  # phone to session time
    assert dash.film_s(ZERO_TAP_MS + offset_ms - 60_000) == pytest.approx(30.0, abs=1e-3)
    assert dash.film_s(ZERO_TAP_MS + offset_ms) == pytest.approx(90.0, abs=1e-3)
    assert dash.at_ms(90.0) == pytest.approx(ZERO_TAP_MS + offset_ms, abs=1)


def test_two_marks_are_weighted_and_halve_the_variance():
    once = cameras_of(filmed((ZERO_TAP_MS, "dash", 10.0)))[0]
    document = document_of(FULL)
    device = document["events"][0]["device"]
    document["events"] += [
        {"id": f"m{k}", "device": device, "t_ms": ZERO_TAP_MS + 1000 * k, "kind": "film_sync",
         "text": "dash", "value": 10.0 + k + shift, "unit": "s"}
        for k, shift in ((0, 0.0), (30, 0.2))
    ]  # fmt: skip
    (twice,) = cameras_of(subject_of(document))
    assert twice.marks == 2
    # The usual tap delay of the sample's protocol: 0.9 ± 0.4 s, and two taps of it.
    assert twice.half_width_s == pytest.approx(1.959964 * 0.4 / 2**0.5, rel=0.02)
    assert twice.film_s(ZERO_TAP_MS) == pytest.approx(once.film_s(ZERO_TAP_MS) + 0.1 + 0.9, abs=0.1)


def test_marks_that_disagree_are_told_not_hidden():
    (camera,) = cameras_of(filmed((ZERO_TAP_MS, "dash", 10.0), (ZERO_TAP_MS + 60_000, "dash", 90)))
    assert not camera.agree
    assert camera.half_width_s >= 10
    assert "disagree" in camera.words


def test_without_a_mark_the_message_says_what_to_do():
    with pytest.raises(NotFoundError, match="no film sync mark with its seconds of film"):
        camera_of(sample(FULL))
    with pytest.raises(NotFoundError, match="no film sync mark with its seconds of film"):
        piece_of(filmed((ZERO_TAP_MS, "dash", None)), "captions")
    with pytest.raises(NotFoundError, match="there are: boot, dash"):
        camera_of(filmed((1772444941539, "dash", 1.0), (1772444941539, "boot", 2.0)), "roof")


def seconds(stamp: str) -> float:
    """The reader's own seconds are whole ones."""
    hours, minutes, rest = stamp.split(":")
    return 3600 * int(hours) + 60 * int(minutes) + float(rest)


def spoken(cue: Any) -> str:
    return html.unescape(cue.text).replace("\n", " ")


def test_captions_stand_at_their_events(subject: Subject):
    dash = camera_of(subject, "dash")
    read = cues(captions(subject, dash))
    zero = next(cue for cue in read if cue.text.startswith("0 % shown"))
    at = next(entry.at_ms.value for entry in subject.result.timeline if entry.kind == "zero_soc")
    assert zero.start_in_seconds == pytest.approx(30 + (at - ZERO_TAP_MS + 60_000) / 1000, abs=0.51)
    words = "; ".join(spoken(cue) for cue in read).casefold()
    for entry in subject.result.timeline:
        filmed_s = dash.film_s(entry.at_ms.value)
        if entry.kind != "film_sync" and filmed_s >= 0:
            assert subject.words(entry).casefold() in words
    assert "left" not in words
    assert "left" in captions(subject, dash, left=True).decode()


@pytest.mark.parametrize("left", [False, True])
def test_captions_can_be_read_and_none_lies_on_another(subject: Subject, left: bool):
    """At most 17 signs a second, none shorter than two seconds."""
    for camera in cameras_of(subject):
        read = cues(captions(subject, camera, left))
        for cue in read:
            lasting_s = round(seconds(cue.end) - seconds(cue.start), 3)
            assert lasting_s >= 2
            assert len(html.unescape(cue.text)) / lasting_s <= 17.01
            assert max(map(len, html.unescape(cue.text).splitlines())) <= 42
        assert all(before.end <= after.start for before, after in pairwise(read))
        again = webvtt.from_buffer(io.BytesIO(captions_srt(subject, camera, left)), format="srt")
        assert [cue.text for cue in again] == [html.unescape(cue.text) for cue in read]
        assert [cue.start for cue in again] == [cue.start for cue in read]


def test_what_happens_at_once_shares_a_caption_and_nothing_is_left_out():
    crowd = [Spoken(10 + 0.4 * k, f"Thing {k} happened", (f"{k} km past zero",)) for k in range(12)]
    read = paced([Spoken(1, "Alone", ("1.0 km past zero",)), *crowd, Spoken(100, "x" * 300)])
    assert (read[0].from_s, read[0].to_s) == (1, 7)
    assert read[0].lines == ("Alone", "1.0 km past zero")
    assert read[1].lines[0].startswith("Thing 0 happened; Thing 1 happened")
    words = " ".join(line for cue in read for line in cue.lines)
    assert all(f"Thing {k} happened" in words for k in range(12))
    assert all(before.to_s <= after.from_s for before, after in pairwise(read))
    assert read[-1].to_s - read[-1].from_s >= 300 / 17


def test_chapters_follow_each_other_without_gaps(subject: Subject):
    read = cues(chapters(subject, camera_of(subject, "dash")))
    assert [cue.text for cue in read][:2] == ["Towards zero", "Past zero: 0 % shown"]
    for before, after in pairwise(read):
        assert before.end == after.start
    for cue in read:
        assert seconds(cue.end) - seconds(cue.start) >= LEAST_CHAPTER_S - 0.001
    lines = chapter_list(subject, camera_of(subject, "dash")).decode().splitlines()
    assert lines[0] == "0:00 Towards zero"
    assert len(lines) == len(read)


def test_the_data_track_holds_the_curve_as_json(subject: Subject):
    camera = camera_of(subject, "dash")
    read = cues(data_track(subject, camera, 1.0))
    values = [json.loads(cue.text) for cue in read]
    past = [value["past_zero_m"]["value"] for value in values]
    assert past == sorted(past)
    reserve = subject.result.reserve.distance_m
    assert reserve is not None
    end = next(
        entry.at_ms.value for entry in subject.result.timeline if entry.kind == "propulsion_off"
    )
    at_end = min(values, key=lambda value: abs(value["t_ms"] - end))
    assert at_end["past_zero_m"]["value"] == pytest.approx(reserve.value, abs=5)
    assert at_end["past_zero_m"]["low"] <= reserve.value <= at_end["past_zero_m"]["high"] + 5


@pytest.mark.slow
def test_cards_are_small_transparent_and_numbered_by_the_films_frames(subject: Subject):
    camera = camera_of(subject, "dash")
    with zipfile.ZipFile(io.BytesIO(cards(subject, camera, 0.5))) as archive:
        assert archive.testzip() is None
        names = [name for name in archive.namelist() if name.endswith(".png")]
        numbers = [moment.number for moment in moments(subject, camera, 0.5)]
        assert names == [f"card_{number:06d}.png" for number in numbers]
        assert numbers == list(range(numbers[0], numbers[-1] + 1))
        image = Image.open(io.BytesIO(archive.read(names[100])))
        assert image.size == (WIDTH, HEIGHT)
        image = image.convert("RGBA")
        assert image.getpixel((0, 0))[3] == 0  # type: ignore[index]
        low, high = image.getextrema()[3]  # type: ignore[misc]
        assert (low, high) == (0, 255)
        assert "dash" in archive.read("read-me.txt").decode()


@pytest.mark.parametrize("rate", [0.0, -1.0, 61.0, float("nan")])
def test_a_rate_nobody_films_at_is_refused(subject: Subject, rate: float):
    with pytest.raises(InputError, match="rate"):
        list(moments(subject, camera_of(subject, "dash"), rate))


def test_too_many_cards_are_refused_before_one_is_drawn(
    subject: Subject, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(moments_module, "MOST_MOMENTS", 30_000)
    with pytest.raises(InputError, match="30,000 are the most"):
        cards(subject, camera_of(subject, "dash"), 60.0)


@pytest.mark.slow
def test_each_frame_of_a_ten_minute_run_has_its_card(subject: Subject):
    """At 60 a second, in a file that a laptop can still hold."""
    packed = cards(subject, camera_of(subject, "dash"), 60.0)
    assert len(packed) < 200e6
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        assert len(archive.namelist()) == pytest.approx(60 * (582 + 20), abs=60)


def test_a_run_too_long_for_a_card_each_second_is_offered_and_refused_before_anything_is_made(
    subject: Subject, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(moments_module, "MOST_MOMENTS", 100)
    assert ("cards", "dash") in {(piece.key, piece.camera) for piece in pieces_of(subject)}
    assert not any("dash" in one.title for one in missing_of(subject))
    assert piece_of(subject, "cards", "dash").key == "cards"
    with pytest.raises(InputError, match="100 are the most"):
        next(everything(subject))


def test_a_film_without_the_run_gets_no_cards_and_says_why(subject: Subject):
    """The boot camera began a quarter of an hour after zero, when the car stood."""
    keys = {(piece.key, piece.camera) for piece in pieces_of(subject) if piece.camera}
    assert ("cards", "dash") in keys
    assert ("cards", "boot") not in keys
    assert ("captions", "boot") in keys
    with pytest.raises(NotFoundError, match="boot was over before zero"):
        piece_of(subject, "cards", "boot")


def test_words_of_a_person_can_not_break_the_file():
    text = write_webvtt(
        "a\n\nb", "x --> y", [Cue(1.0, 2.0, ("1 < 2 --> & <b>", "", "two\n\nthree"))]
    )
    (cue,) = cues(text)
    assert html.unescape(cue.text).splitlines() == ["1 < 2 --> & <b>", "two three"]
    assert timestamp(3723.4504) == "01:02:03.450"


def test_what_the_film_does_not_show_is_left_out():
    text = write_webvtt("t", "n", [Cue(-9.0, -3.0, ("gone",)), Cue(-1.0, 2.0, ("cut",))])
    assert [(cue.start, cue.text) for cue in cues(text)] == [("00:00:00.000", "cut")]


def test_every_piece_can_be_made(subject: Subject):
    for piece in pieces_of(subject):
        if piece.group in {"film", "data"} and piece.key != "cards":
            assert make(subject, piece), piece
    names = [piece.file_name for piece in pieces_of(subject)]
    assert len(set(names)) == len(names)


def test_cameras_of_like_names_keep_their_files_apart():
    subject = filmed(
        (ZERO_TAP_MS, "Roof", 1.0), (ZERO_TAP_MS, "roof!", 2.0), (ZERO_TAP_MS, "..", 3)
    )
    folders = {
        piece.file_name.split("/")[1].lower() for piece in pieces_of(subject) if piece.camera
    }
    assert len(folders) == 3
    assert not any(".." in folder for folder in folders)


def test_a_session_without_zero_has_no_cards():
    document = document_of(LAPS)
    document["events"] = [
        {"id": "m", "device": document["devices"][0]["id"],
         "t_ms": document["breadcrumbs"][0]["t_ms"][9], "kind": "film_sync", "value": 5.0}
    ]  # fmt: skip
    subject = subject_of(document)
    assert {piece.key for piece in pieces_of(subject) if piece.camera == "film"} == {
        "captions", "captions-srt", "chapters", "chapter-list"
    }  # fmt: skip
    with pytest.raises(NotFoundError, match="no zero"):
        piece_of(subject, "cards")
