"""``ebbline import``: a session file, or another device's GPX track or CSV log into a session."""

from __future__ import annotations

import json
import uuid
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click
from sqlalchemy.orm import Session

from ebbline.cli import reading
from ebbline.cli.options import data_option, database_option, photos_option
from ebbline.cli.places import Places
from ebbline.errors import InputError
from ebbline.exchange.csv_guess import Guess, guess
from ebbline.exchange.csv_mapping import parse_mapping
from ebbline.exchange.recording import kind_of
from ebbline.exchange.session_file import load_file
from ebbline.sessions.files.recordings import (
    ImportOptions,
    add_recording,
    read_recording,
    session_for,
)
from ebbline.sessions.files.session_files import import_file
from ebbline.wall_clock import now_ms

NEW = "new"
UNCONFIRMED = 2  # exit status: nothing was imported, somebody has to look first


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--into",
    metavar="SESSION",
    help="The session that a GPX track or a CSV log belongs to: its id, or 'new'.",
)
@click.option("--device", metavar="NAME", help="Who recorded it. [default: from the file]")
@click.option("--zone", metavar="ZONE", help="Of times that say none, such as Europe/Vienna.")
@click.option("--mapping", metavar="FILE|JSON", help="Which column of a CSV log is what.")
@click.option("--accept-guess", is_flag=True, help="Take the mapping that is proposed.")
@database_option
@photos_option
@data_option
def command(
    file: Path,
    into: str | None,
    device: str | None,
    zone: str | None,
    mapping: str | None,
    accept_guess: bool,
    database: str | None,
    photos: str | None,
    data: Path,
) -> None:
    """Take a session file into the database, or a GPX track or CSV log into a session of it.

    All of a file is taken or nothing. A CSV log needs a mapping: without one the mapping that
    might be right is printed, and nothing is imported.
    """
    content = reading.read(file)
    where = Places.of(database, data, photos)
    if into is not None and kind_of(content) in ("gpx", "csv"):
        columns = None if mapping is None else _read_mapping(mapping)
        options = ImportOptions(file.name, device, zone, columns)
        _import_recording(content, into, options, where, accept_guess=accept_guess)
        return
    if kind_of(content) == "gpx":
        raise InputError("$", "is XML; for a GPX track say with --into which session it is of")
    for name, given in (
        ("--device", device), ("--zone", zone), ("--mapping", mapping),
        ("--accept-guess", accept_guess or None),
    ):  # fmt: skip
        if given is not None:
            raise InputError(name, "goes with a GPX track or a CSV log and --into SESSION")
    document, _pictures = load_file(content)  # malformed: not even a database is made
    if into is not None and into != document["session"]["id"]:
        raise InputError(
            "--into", f"is {into}, but the file is session {document['session']['id']}"
        )
    with where.open_database() as engine, Session(engine) as db_session:
        done = import_file(db_session, where.photo_folder(), content, now_ms())
    click.echo(
        f"{done.id}: {done.events} events, {done.readings} readings, {done.fixes} positions; "
        f"choices at revision {done.revision}; "
        f"{'stored what was new' if done.changed else 'all of it was here before'}"
    )


def _import_recording(
    content: bytes, into: str, options: ImportOptions, where: Places, *, accept_guess: bool
) -> None:
    """Import a GPX or CSV file into a session and say what came of it.

    A CSV without a mapping is not imported: the proposed mapping is printed for the user to look
    at, unless the guess was accepted beforehand.
    """
    session_id = None if into == NEW else _session_id(into)
    if options.mapping is None and kind_of(content) == "csv":
        proposed = guess(content, options.zone)
        if not accept_guess:
            click.echo(json.dumps(asdict(proposed), indent=2, ensure_ascii=False))
            click.echo(
                "Nothing was imported. Look at the proposed mapping, put right what is wrong, and "
                "give it back with --mapping FILE; or take it as it is with --accept-guess.",
                err=True,
            )
            click.get_current_context().exit(UNCONFIRMED)
        options = ImportOptions(options.name, options.device, options.zone, _complete(proposed))
    recording = read_recording(content, options)  # malformed: not even a database is made
    with where.open_database() as engine, Session(engine) as db_session:
        if session_id is None:
            session_id = session_for(db_session, content, options.name, now_ms())
        done = add_recording(db_session, session_id, recording, now_ms())
    click.echo(
        f"{done.id}: {done.fixes} positions, {done.events} events, {done.log_rows} rows of a log, "
        f"by {', '.join(done.devices)}; "
        f"{'stored what was new' if done.changed else 'all of it was here before'}"
    )
    for note in done.notes:
        click.echo(note)


def _read_mapping(given: str) -> dict[str, Any]:
    """A mapping given as JSON or as the name of a file that holds it.

    Raises:
        InputError: no such file, or no mapping in it.
    """
    if given.lstrip().startswith("{"):
        return parse_mapping(given.encode())
    try:
        return parse_mapping(Path(given).read_bytes())
    except OSError as error:
        raise InputError(given, error.strerror or "can't be read") from error


def _session_id(text: str) -> uuid.UUID:
    """The id of a session as somebody typed it.

    Raises:
        InputError: it is none.
    """
    try:
        return uuid.UUID(text)
    except ValueError:
        raise InputError("--into", f"{text!r} is not a session's id, nor '{NEW}'") from None


def _complete(proposed: Guess) -> dict[str, Any]:
    """The proposed mapping, unless it leaves out what only the user can say."""
    time = proposed.mapping.get("time")
    gaps = {"zone", "start", "format"}
    if time is None or any(time[key] is None for key in gaps & time.keys()):
        raise InputError("--accept-guess", f"the guess is not complete: {proposed.open[0]}")
    return proposed.mapping
