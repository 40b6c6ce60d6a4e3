"""Publishing a session: what there is to publish, and each piece's bytes.

What draws and sets pages is imported when it is asked for: it takes a second that nothing else
should wait for.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, get_args
from uuid import UUID

from sqlalchemy.orm import Session

from ebbline.errors import EbblineError, NotFoundError
from ebbline.exchange.session_file import load_file, sha256_of
from ebbline.report.film_options import USUAL, FilmOptions
from ebbline.report.setting_out import USUAL_OUT, SettingOut
from ebbline.sessions.files.session_files import ExportedSession, export_file
from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.sessions.results.results import analysed

if TYPE_CHECKING:
    from ebbline.report.figures import Units
    from ebbline.report.film import Camera
    from ebbline.report.paragraph import ToPaste
    from ebbline.report.pieces import Missing, Piece
    from ebbline.report.subject import Subject
    from ebbline.store.photos import PhotoFolder

UnitsChoice = Literal["km", "mi"]
ConsumptionChoice = Literal["kWh/100km", "Wh/km", "km/kWh", "Wh/mi", "mi/kWh"]
TemperatureChoice = Literal["\u00b0C", "\u00b0F"]
UNITS: tuple[UnitsChoice, ...] = get_args(UnitsChoice)
CONSUMPTIONS: tuple[ConsumptionChoice, ...] = get_args(ConsumptionChoice)
TEMPERATURES: tuple[TemperatureChoice, ...] = get_args(TemperatureChoice)
MOST_AT_ONCE = 200  # sessions whose pictures somebody may wait for
REPORTS_KEPT = 3  # of a few hundred kilobytes each

_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP can say: the same content, the same bytes


@dataclass(frozen=True, slots=True)
class Offer:
    """What can be published of a session, its cameras, and what can't be had and why."""

    pieces: list[Piece]
    cameras: list[Camera]
    missing: list[Missing]


@dataclass(frozen=True, slots=True)
class Made:
    """One piece's bytes, its file's name and its type."""

    content: bytes
    file_name: str
    media_type: str


def subject_of(
    db_session: Session,
    session_id: UUID,
    units: UnitsChoice,
    consumption: ConsumptionChoice | None = None,
    temperature: TemperatureChoice | None = None,
    out: SettingOut = USUAL_OUT,
) -> Subject:
    """A session as its publications take it; consumption and temperature follow ``units``
    if nothing is said.

    Raises:
        NotFoundError: no such session.
        MeasureError: the core could not work on the evidence.
    """
    from ebbline.report.figures import Units
    from ebbline.report.subject import Subject

    found = analysed(db_session, session_id)
    shown = Units(units, consumption, temperature)
    return Subject(found.document, found.analysis, found.input_sha256, shown, out)


def subject_of_file(data: bytes, units: UnitsChoice, out: SettingOut = USUAL_OUT) -> Subject:
    """The same of a session file that is in no database.

    Raises:
        InputError: the file is malformed.
        MeasureError: the core could not work on the evidence.
    """
    from ebbline.report.figures import Units
    from ebbline.report.subject import Subject
    from ebbline.sessions.results.analysis import analyze_document

    document, _photos = load_file(data)
    return Subject(document, analyze_document(document), sha256_of(data), Units(units), out)


def offer(subject: Subject) -> Offer:
    """What can be published of it."""
    from ebbline.report.film import cameras_of
    from ebbline.report.pieces import missing_of, pieces_of

    return Offer(pieces_of(subject), cameras_of(subject), missing_of(subject))


def to_paste(subject: Subject) -> ToPaste:
    """The paragraph to paste, and what must be said with it."""
    from ebbline.report import paragraph

    return paragraph.to_paste(subject)


def publish(
    subject: Subject, key: str, camera: str | None = None, asked: FilmOptions = USUAL
) -> Made:
    """One piece. ``camera`` and ``asked`` are for what belongs to a film.

    Raises:
        NotFoundError: no such piece of this session; says why.
        InputError: a rate we don't take.
    """
    from ebbline.report import pieces

    piece = pieces.piece_of(subject, key, camera)
    name = f"{subject.slug}-{piece.file_name.replace('/', '-')}"
    return Made(pieces.make(subject, piece, asked), name, piece.media_type)


def everything(
    subject: Subject, exported: ExportedSession, asked: FilmOptions = USUAL
) -> Iterator[tuple[str, bytes]]:
    """Path and bytes of the session file and of every piece, one after the other.

    Raises:
        InputError: a rate we don't take.
    """
    from ebbline.report import pieces

    yield f"session.{exported.ending}", exported.content
    yield from pieces.everything(subject, asked)


def everything_packed(
    subject: Subject, exported: ExportedSession, asked: FilmOptions = USUAL
) -> Made:
    """The session file and every piece in one ZIP; the same session gives the same bytes.

    Raises:
        InputError: a rate we don't take.
    """
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for path, content in everything(subject, exported, asked):
            _write(archive, path, content)
    return Made(packed.getvalue(), f"{subject.slug}.zip", "application/zip")


def _write(archive: zipfile.ZipFile, path: str, content: bytes) -> None:
    kept = path.endswith((".png", ".zip", ".pdf"))  # packed already
    method = zipfile.ZIP_STORED if kept else zipfile.ZIP_DEFLATED
    archive.writestr(zipfile.ZipInfo(path, _TIME), content, method)


def several_packed(
    db_session: Session,
    photos: PhotoFolder,
    session_ids: Sequence[UUID],
    units: UnitsChoice,
    published: Callable[[UUID], object] | None = None,
) -> Iterator[bytes]:
    """Session files and every piece of several sessions in one ZIP, a folder each, handed out as it
    is made. Where a session can't be published a text in the ZIP says why. ``published`` is told of
    each other.
    """
    packed = _Growing()
    refused = []
    with zipfile.ZipFile(packed, "w") as archive:
        for number, session_id in enumerate(session_ids, start=1):
            try:
                subject = subject_of(db_session, session_id, units)
                exported = export_file(db_session, photos, session_id)
            except EbblineError as error:
                refused.append(f"{session_id}: {error}\n")
                continue
            folder = f"{number:03d}-{subject.slug}"
            for path, content in everything(subject, exported):
                _write(archive, f"{folder}/{path}", content)
                yield packed.taken()
            if published is not None:
                published(session_id)
        if refused:
            _write(archive, "not-published.txt", "".join(refused).encode())
    yield packed.taken()


class _Growing(io.RawIOBase):
    """A file that is read while it is written."""

    def __init__(self) -> None:
        self._held = bytearray()

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        self._held += data
        return len(data)

    def taken(self) -> bytes:
        """What was written since this was last asked for."""
        content = bytes(self._held)
        self._held.clear()
        return content


def page_count(subject: Subject) -> int:
    """How many pages the report has."""
    return len(_pages_of(subject))


def preview(subject: Subject, page: int) -> bytes:
    """One page of the report, counted from 1, as a PNG to look at.

    Raises:
        NotFoundError: the report has no such page.
    """
    pages = _pages_of(subject)
    if not 1 <= page <= len(pages):
        raise NotFoundError(f"the report has {len(pages)} pages, and no page {page}")
    return pages[page - 1]


# The last reports set, so that looking from page to page sets each only once.
_pages = RecentlyUsed[tuple[str, str, "Units", SettingOut], list[bytes]](REPORTS_KEPT)


def _pages_of(subject: Subject) -> list[bytes]:
    from ebbline.report.pdf import report_pages

    key = (subject.input_sha256, subject.engine, subject.units, subject.out)
    return _pages.get(key, lambda: report_pages(subject))
