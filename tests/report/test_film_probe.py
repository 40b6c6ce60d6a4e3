"""What we time to a film, beside a film: made and probed by ffmpeg's libraries (PyAV)."""

from __future__ import annotations

import io
import zipfile
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from report.subjects import FULL, sample
from report.test_film import ZERO_TAP_MS, filmed

from ebbline.report.captions import _cues, captions, captions_srt
from ebbline.report.cards import HEIGHT, WIDTH, cards
from ebbline.report.chapters import chapters
from ebbline.report.film import Camera, camera_of
from ebbline.report.film_options import FilmOptions
from ebbline.report.moments import moments
from ebbline.report.subject import Subject
from ebbline.report.webvtt import Cue

pytestmark = pytest.mark.slow

# As an editor names the rate, and what it is (SMPTE ST 12-1: 24, 30 and 60 over 1.001).
RATES = {
    "23.976": Fraction(24000, 1001),
    "24": Fraction(24),
    "25": Fraction(25),
    "29.97": Fraction(30000, 1001),
    "30": Fraction(30),
    "50": Fraction(50),
    "59.94": Fraction(60000, 1001),
    "60": Fraction(60),
}
FILM_S = 14
EVENT_S = 12.0  # of the film, at which the marks lie


@pytest.fixture(scope="module")
def subject() -> Subject:
    """Two films of a full run: one is on at zero, the other at the end alone."""
    end = sample(FULL).end_of_reserve
    assert end is not None
    return filmed((ZERO_TAP_MS, "zero", EVENT_S), (end.t_ms, "end", EVENT_S))


@pytest.fixture(scope="module", params=RATES, ids=str)
def rate(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def film(rate: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small film of that rate."""
    path = tmp_path_factory.mktemp("film") / f"{rate}.mp4"
    with av.open(path, "w") as out:
        stream = out.add_stream("mpeg4", rate=RATES[rate])
        stream.width, stream.height, stream.pix_fmt = 64, 36, "yuv420p"
        for number in range(int(FILM_S * RATES[rate])):
            shade = np.full((36, 64, 3), number % 256, np.uint8)
            frame = av.VideoFrame.from_ndarray(shade, format="rgb24")
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def times_s(path: Path) -> list[float]:
    """When each frame is shown."""
    with av.open(path) as opened:
        return [float(frame.pts * frame.time_base) for frame in opened.decode(video=0)]


def test_a_cards_number_is_the_films_frame(subject: Subject, rate: str, film: Path):
    shown_s = times_s(film)
    camera = camera_of(subject, "zero")
    found = [
        moment
        for moment in moments(subject, camera, FilmOptions(float(rate)).rate)
        if moment.number < len(shown_s)
    ]
    assert len(found) > 10 * float(rate)
    for moment in found:
        assert shown_s[moment.number] == pytest.approx(moment.film_s, abs=0.000_1)
    # an hour on the two still agree, to a tenth of a frame
    assert abs(FilmOptions(float(rate)).rate - float(RATES[rate])) * 3600 < 0.1


def test_the_frame_of_zero_is_where_the_cards_begin_to_count(subject: Subject, rate: str):
    camera = camera_of(subject, "zero")
    zero_ms = subject.result.zero.t_ms
    assert zero_ms is not None
    first = int(np.ceil(camera.film_s(zero_ms) * float(RATES[rate]) - 1e-9))
    past = {
        moment.number: moment.past_zero_m.value
        for moment in moments(subject, camera, FilmOptions(float(rate)).rate)
        if moment.past_zero_m is not None and abs(moment.number - first) <= 1
    }
    fuzz_m = 0.03  # of a moment told in whole milliseconds
    assert past[first - 1] < fuzz_m
    assert -fuzz_m < past[first] < 30 / float(rate) + fuzz_m, "of a car at 30 m/s at most"


def test_cards_are_read_as_a_sequence_of_the_films_rate(
    subject: Subject, rate: str, tmp_path: Path
):
    """Frame by frame over the film's end, as cutting programs read numbered pictures."""
    camera = camera_of(subject, "end")
    asked = FilmOptions(float(rate))
    with zipfile.ZipFile(io.BytesIO(cards(subject, camera, asked.rate))) as archive:
        archive.extractall(tmp_path)
        names = sorted(name for name in archive.namelist() if name.endswith(".png"))
        said = archive.read("read-me.txt").decode()
    assert f"{float(rate):g} a second" in said
    first = int(names[0].removeprefix("card_").removesuffix(".png"))
    options = {"framerate": str(RATES[rate]), "start_number": str(first)}
    expected = [moment.film_s for moment in moments(subject, camera, asked.rate)]
    with av.open(str(tmp_path / "card_%06d.png"), format="image2", options=options) as opened:
        stream = opened.streams.video[0]
        assert stream.average_rate == RATES[rate]
        assert (stream.width, stream.height) == (WIDTH, HEIGHT)
        pts = []
        for frame in opened.decode(video=0):
            pts.append(float(frame.pts * frame.time_base))
            if len(pts) == 1:
                rgba = frame.to_ndarray(format="rgba")
                assert (rgba[0, 0, 3], rgba[70, 8, 3]) == (0, 190), "clear corner, panel"
    assert len(pts) == len(expected)
    assert np.allclose(np.array(pts) + expected[0], expected, atol=1e-4)


def packets(path: Path) -> list[tuple[float, float, str]]:
    """Subtitles as ffmpeg reads them: from, to, words."""
    read = []
    with av.open(path) as opened:
        (stream,) = opened.streams.subtitles
        for packet in opened.demux(stream):
            if packet.pts is None or packet.duration is None:
                continue
            start = float(packet.pts * packet.time_base)
            read.append((start, start + float(packet.duration * packet.time_base),
                         bytes(packet).decode()))  # fmt: skip
    return read


def expected_cues(cues: list[Cue]) -> list[tuple[float, float, str]]:
    return [(max(cue.from_s, 0.0), cue.to_s, "\n".join(cue.lines)) for cue in cues if cue.to_s > 0]


def plain(words: str) -> str:
    for entity, sign in (("&lt;", "<"), ("&gt;", ">"), ("&amp;", "&")):
        words = words.replace(entity, sign)
    return words.strip()


@pytest.mark.parametrize("name", ["captions.vtt", "captions.srt"])
@pytest.mark.parametrize("left", [False, True], ids=["open", "with what was left"])
def test_captions_are_read_as_subtitles_with_the_same_cues(
    subject: Subject, name: str, left: bool, tmp_path: Path
):
    camera = camera_of(subject, "zero")
    write = captions if name.endswith("vtt") else captions_srt
    (tmp_path / name).write_bytes(write(subject, camera, left))
    same_cues(packets(tmp_path / name), expected_cues(_cues(subject, camera, left)))


def same_cues(
    read: list[tuple[float, float, str]], expected: list[tuple[float, float, str]]
) -> None:
    assert [plain(words) for _, _, words in read] == [words for _, _, words in expected]
    for (start, end, _), (from_s, to_s, _) in zip(read, expected, strict=True):
        assert (start, end) == pytest.approx((from_s, to_s), abs=0.001_1)


def test_chapters_are_read_as_a_track_too(subject: Subject, tmp_path: Path):
    camera: Camera = camera_of(subject, "zero")
    (tmp_path / "chapters.vtt").write_bytes(chapters(subject, camera))
    read = packets(tmp_path / "chapters.vtt")
    assert len(read) > 2
    assert read[0][0] == 0
    assert all(abs(one[1] - other[0]) < 0.001_1 for one, other in pairwise(read))
