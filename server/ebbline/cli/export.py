"""``ebbline export``."""

from __future__ import annotations

import sys
import uuid
from pathlib import Path

import click
from sqlalchemy.orm import Session

from ebbline.cli.options import data_option, database_option, photos_option
from ebbline.cli.places import Places
from ebbline.errors import InputError
from ebbline.sessions.files.session_files import export_file


@click.command("export")
@click.argument("session")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="[default: standard output]")
@database_option
@photos_option
@data_option
def command(
    session: str, output: Path | None, database: str | None, photos: str | None, data: Path
) -> None:
    """Write a session as a file: JSON, or a ZIP with its photos."""
    try:
        session_id = uuid.UUID(session)
    except ValueError:
        raise InputError("SESSION", f"{session!r} is not a session's id") from None
    where = Places.of(database, data, photos)
    with where.open_database() as engine, Session(engine) as db_session:
        exported = export_file(db_session, where.photo_folder(), session_id)
    if output is None:
        sys.stdout.buffer.write(exported.content)
    else:
        output.write_bytes(exported.content)
        click.echo(f"wrote {output} ({len(exported.content):,} bytes)", err=True)
