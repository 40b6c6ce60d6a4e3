"""``ebbline publish``: a session into a folder."""

from __future__ import annotations

import uuid
from pathlib import Path

import click
from sqlalchemy.orm import Session

from ebbline.cli import reading
from ebbline.cli.options import data_option, database_option, photos_option, units_option
from ebbline.cli.places import Places
from ebbline.errors import InputError
from ebbline.report.film_options import USUAL_RATE, FilmOptions
from ebbline.report.setting_out import GROUNDS, PAPERS, Ground, Paper, SettingOut
from ebbline.sessions.files.session_files import ExportedSession, export_file
from ebbline.sessions.publications.of_session import record_publication
from ebbline.sessions.results import publishing
from ebbline.wall_clock import now_ms


@click.command("publish")
@click.argument("named", metavar="SESSION|FILE")
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder to write into; it is made when it isn't there.",
)
@units_option
@click.option(
    "--rate",
    type=click.FloatRange(min=0, min_open=True),
    default=USUAL_RATE,
    show_default=True,
    help="Data cards per second of film; 25 for one a frame.",
)
@click.option(
    "--left",
    is_flag=True,
    help="Captions say what was left until the car stopped, which gives the end away.",
)
@click.option("--paper", type=click.Choice(PAPERS), default="a4", show_default=True)
@click.option(
    "--ground",
    type=click.Choice(GROUNDS),
    default="paper",
    show_default=True,
    help="Pictures as on paper, by night, or by night without ground, to lie over a film.",
)
@click.option(
    "--published",
    metavar="WHERE",
    help="Record the session as published, and where: its figures are frozen as they are now.",
)
@click.option("--by", metavar="NAME", help="With --published: who publishes it.")
@database_option
@photos_option
@data_option
def command(
    named: str,
    output: Path,
    units: publishing.UnitsChoice,
    rate: float,
    left: bool,
    paper: Paper,
    ground: Ground,
    published: str | None,
    by: str | None,
    database: str | None,
    photos: str | None,
    data: Path,
) -> None:
    """Write a session's report, pictures, film tracks and data into a folder.

    SESSION is the id of a session in the database, FILE a session file. A file of the same name in
    the folder is replaced.
    """
    where = Places.of(database, data, photos)
    source, out = Path(named), SettingOut(paper, ground)
    if by is not None and published is None:
        raise InputError("--by", "goes with --published")
    if source.is_file():
        if published is not None:
            raise InputError("--published", "goes with a session in the database, not with a file")
        content = reading.read(source)
        subject = publishing.subject_of_file(content, units, out)
        exported = ExportedSession(content, is_archive=content.startswith(b"PK"))
    else:
        session_id = _session_id(named)
        with where.open_database() as engine, Session(engine) as db_session:
            subject = publishing.subject_of(db_session, session_id, units, out=out)
            exported = export_file(db_session, where.photo_folder(), session_id)
            if published is not None:
                record_publication(db_session, session_id, by, published, now_ms())
    count = 0
    for path, piece in publishing.everything(subject, exported, FilmOptions(rate, left)):
        target = output / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(piece)
        click.echo(f"{path}  {len(piece):,} bytes")
        count += 1
    for missing in publishing.offer(subject).missing:
        click.echo(f"Not written: {missing.title}. {missing.why}")
    click.echo(f"{count} files in {output}")


def _session_id(named: str) -> uuid.UUID:
    try:
        return uuid.UUID(named)
    except ValueError:
        raise InputError("SESSION", f"{named!r} is neither a file nor a session's id") from None
