"""Everything that can be published of a session, each piece by its key."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ebbline.errors import NotFoundError
from ebbline.exchange import result_document
from ebbline.exchange.curves_csv import curves_csv
from ebbline.exchange.gpx import track_gpx
from ebbline.report.captions import captions, captions_srt
from ebbline.report.cards import cards
from ebbline.report.chapters import chapter_list, chapters
from ebbline.report.charts import CHARTS, picture, pictures_of
from ebbline.report.data_track import data_track
from ebbline.report.film import NO_MARK, Camera, camera_of, cameras_of
from ebbline.report.film_options import USUAL, USUAL_RATE, FilmOptions
from ebbline.report.html import report_html
from ebbline.report.look import SHAPES, ImageFormat
from ebbline.report.moments import numbers, wanted
from ebbline.report.paragraph import paragraph_text
from ebbline.report.pdf import report_pdf
from ebbline.report.subject import Subject

Make = Callable[[Subject], bytes]
MakeOfFilm = Callable[[Subject, Camera, FilmOptions], bytes]


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing to publish. ``camera`` is None for what needs no film."""

    key: str
    file_name: str
    title: str
    group: str
    media_type: str
    camera: str | None = None


_PLAIN: dict[str, tuple[str, str, str, str, Make]] = {
    "report-html": ("report.html", "Report, one web page", "report", "text/html", report_html),
    "report-pdf": ("report.pdf", "Report, to print", "report", "application/pdf", report_pdf),
    "paragraph": ("paragraph.txt", "Paragraph to paste", "report", "text/plain", paragraph_text),
    "csv": ("curves.csv", "Curves as a table", "data", "text/csv",
            lambda subject: curves_csv(subject.curves).encode()),
    "gpx": ("track.gpx", "Track and events", "data", "application/gpx+xml",
            lambda subject: track_gpx(subject.document).encode()),
    "result": ("result.json", "Result document", "data", "application/json",
               lambda subject: result_document.dump(subject.result, subject.input_sha256)),
}  # fmt: skip
_FILM: dict[str, tuple[str, str, str, MakeOfFilm]] = {
    "captions": ("captions.vtt", "Captions, WebVTT", "text/vtt",
                 lambda subject, camera, asked: captions(subject, camera, asked.left)),
    "captions-srt": ("captions.srt", "Captions, SRT", "application/x-subrip",
                     lambda subject, camera, asked: captions_srt(subject, camera, asked.left)),
    "chapters": ("chapters.vtt", "Chapters", "text/vtt",
                 lambda subject, camera, _: chapters(subject, camera)),
    "chapter-list": ("chapters.txt", "Chapter list, to paste", "text/plain",
                     lambda subject, camera, _: chapter_list(subject, camera)),
    "data-track": ("data.vtt", "Data, second by second", "text/vtt",
                   lambda subject, camera, asked: data_track(subject, camera, asked.rate)),
    "cards": ("cards.zip", "Data cards to lay over the film", "application/zip",
              lambda subject, camera, asked: cards(subject, camera, asked.rate)),
}  # fmt: skip
_OF_THE_RUN = ("data-track", "cards")  # that need the run past zero to be on the film


def pieces_of(subject: Subject) -> list[Piece]:
    """What there is for this session, in the order in which it is shown."""
    plain = [Piece(key, *named[:4]) for key, named in _PLAIN.items()]
    reports = [piece for piece in plain if piece.group == "report"]
    drawn = [
        Piece(f"picture-{name}-{shape}-{form}", f"pictures/{name}-{shape}.{form}",
              CHARTS[name].title, "pictures", "image/png" if form == "png" else "image/svg+xml")
        for name in pictures_of(subject)
        for shape in SHAPES
        for form in ("png", "svg")
    ]  # fmt: skip
    cameras = cameras_of(subject)
    folders = _folders([camera.name for camera in cameras])
    filmed = [
        Piece(key, f"film/{folder}/{file_name}", title, "film", media_type, camera.name)
        for camera, folder in zip(cameras, folders, strict=True)
        for key, (file_name, title, media_type, _) in _FILM.items()
        if key not in _OF_THE_RUN or _shows_the_run(subject, camera)
    ]
    return [*reports, *drawn, *filmed, *plain[len(reports) :]]


def piece_of(subject: Subject, key: str, camera: str | None = None) -> Piece:
    """The piece of a key; of several cameras the one asked for, else the first.

    Raises:
        NotFoundError: no such piece, or this session's evidence does not allow it; says why.
    """
    if key in _FILM:
        timed = camera_of(subject, camera)
        if key in _OF_THE_RUN:
            numbers(subject, timed, USUAL_RATE)  # says why it is not on the film
        camera = timed.name
    else:
        camera = None
    for piece in pieces_of(subject):
        if piece.key == key and piece.camera == camera:
            return piece
    raise NotFoundError(f"{key!r} is nothing that can be published of this session")


def make(subject: Subject, piece: Piece, asked: FilmOptions = USUAL) -> bytes:
    """A piece's bytes; ``asked`` is for what belongs to a film.

    Raises:
        InputError: a rate we don't take.
    """
    if piece.camera is not None:
        return _FILM[piece.key][3](subject, camera_of(subject, piece.camera), asked)
    if piece.key in _PLAIN:
        return _PLAIN[piece.key][4](subject)
    _, name, shape, form = piece.key.split("-")
    chosen: ImageFormat = "png" if form == "png" else "svg"
    return picture(subject, name, SHAPES[shape], chosen)


@dataclass(frozen=True, slots=True)
class Missing:
    """What this session can't have, and what would have to be there."""

    title: str
    why: str


def missing_of(subject: Subject) -> list[Missing]:
    """What is not among the pieces."""
    drawn = pictures_of(subject)
    missing = [
        Missing(f"Picture: {chart.title}", chart.needs)
        for name, chart in CHARTS.items()
        if name not in drawn
    ]
    cameras = cameras_of(subject)
    if not cameras:
        missing.append(Missing("Captions, chapters and data cards for a film", NO_MARK))
    for camera in cameras:
        try:
            numbers(subject, camera, USUAL_RATE)
        except NotFoundError as error:
            missing.append(Missing(f"Data cards for the film of {camera.name}", str(error)))
    return missing


def everything(subject: Subject, asked: FilmOptions = USUAL) -> Iterator[tuple[str, bytes]]:
    """Every piece's file name and bytes.

    Raises:
        InputError: a rate we don't take; before anything is made.
    """
    pieces = pieces_of(subject)
    for piece in pieces:
        if piece.key in _OF_THE_RUN:
            wanted(subject, camera_of(subject, piece.camera), asked.rate)
    for piece in pieces:
        yield piece.file_name, make(subject, piece, asked)


def _shows_the_run(subject: Subject, camera: Camera) -> bool:
    try:
        numbers(subject, camera, USUAL_RATE)
    except NotFoundError:
        return False
    return True


def _folders(names: list[str]) -> list[str]:
    """A folder's name for each camera, no two alike on any file system."""
    folders: list[str] = []
    for name in names:
        plain = re.sub(r"[^\w.-]+", "-", name).strip(".-")[:60] or "film"
        taken = {folder.casefold() for folder in folders}
        folder, number = plain, 2
        while folder.casefold() in taken:
            folder, number = f"{plain}-{number}", number + 1
        folders.append(folder)
    return folders
