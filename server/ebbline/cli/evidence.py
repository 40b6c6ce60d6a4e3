"""Importing what others recorded: GPX tracks and CSV logs, into a session."""

from __future__ import annotations

import json
import uuid
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click
from sqlalchemy.orm import Session

from ebbline import sessions
from ebbline.cli.places import Places
from ebbline.errors import InputError
from ebbline.exchange.csv_guess import Guess, guess
from ebbline.exchange.csv_mapping import parse_mapping
from ebbline.exchange.evidence import kind_of

NEW = "new"
UNCONFIRMED = 2  # exit status: nothing was imported, somebody has to look first


def take(
    content: bytes,
    into: str,
    stated: sessions.Stated,
    where: Places,
    now_ms: int,
    *,
    accept_guess: bool,
) -> None:
    """Import a GPX or CSV file into a session and say what came of it.

    A CSV without a mapping is not imported: the proposed mapping is printed for the user to look
    at, unless the guess was accepted beforehand.

    Raises:
        InputError: the file or what was stated of it is malformed.
        NotFoundError: no such session.
    """
    session_id = None if into == NEW else session_id_of(into)
    if stated.mapping is None and kind_of(content) == "csv":
        proposed = guess(content, stated.zone)
        if not accept_guess:
            click.echo(json.dumps(asdict(proposed), indent=2, ensure_ascii=False))
            click.echo(
                "Nothing was imported. Look at the proposed mapping, put right what is wrong, and "
                "give it back with --mapping FILE; or take it as it is with --accept-guess.",
                err=True,
            )
            click.get_current_context().exit(UNCONFIRMED)
        stated = sessions.Stated(stated.name, stated.device, stated.zone, _complete(proposed))
    evidence = sessions.read_evidence(content, stated)  # malformed: not even a database is made
    with where.open_database() as engine, Session(engine) as db_session:
        if session_id is None:
            session_id = sessions.create_for(db_session, content, stated.name, now_ms)
        done = sessions.add_read(db_session, session_id, evidence, now_ms)
    click.echo(
        f"{done.id}: {done.fixes} fixes, {done.events} events, {done.log_rows} rows of a log, "
        f"by {', '.join(done.devices)}; "
        f"{'stored what was new' if done.changed else 'all of it was here before'}"
    )
    for note in done.notes:
        click.echo(note)


def read_mapping(given: str) -> dict[str, Any]:
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


def session_id_of(text: str) -> uuid.UUID:
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
