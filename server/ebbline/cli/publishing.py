"""Publishing a session into a folder."""

from __future__ import annotations

import uuid
from pathlib import Path

import click
from sqlalchemy.orm import Session

from ebbline import sessions
from ebbline.cli import reading
from ebbline.cli.places import Places
from ebbline.errors import InputError
from ebbline.sessions import publishing
from ebbline.sessions.publishing import UnitsChoice


def publish(named: str, output: Path, units: UnitsChoice, rate: float, where: Places) -> None:
    """Write everything that can be published, and the session file, into a folder; a file there
    of the same name is replaced. Says what was written and what could not be had.

    Args:
        named: a session file, or the id of a session in the database.
        output: the folder; made when it isn't there.
        units: km or mi.
        rate: data cards per second of film.
        where: the database and photos.

    Raises:
        InputError: neither a file nor a session's id, or a malformed file.
        NotFoundError: no such session.
    """
    source = Path(named)
    if source.is_file():
        content = reading.read(source)
        subject = publishing.subject_of_file(content, units)
        packed = content.startswith(b"PK")
    else:
        session_id = _session_id(named)
        with where.open_database() as engine, Session(engine) as db_session:
            subject = publishing.subject_of(db_session, session_id, units)
            exported = sessions.export_file(db_session, where.photo_folder(), session_id)
        content, packed = exported.content, exported.is_archive
    count = 0
    ending = "zip" if packed else "json"
    for path, data in ((f"session.ebbline.{ending}", content),
                       *publishing.everything(subject, rate)):  # fmt: skip
        target = output / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
        click.echo(f"{path}  {len(data):,} bytes")
        count += 1
    for missing in publishing.offer(subject).missing:
        click.echo(f"Not written: {missing.title}. {missing.why}")
    click.echo(f"{count} files in {output}")


def _session_id(named: str) -> uuid.UUID:
    try:
        return uuid.UUID(named)
    except ValueError:
        raise InputError("SESSION", f"{named!r} is neither a file nor a session's id") from None
