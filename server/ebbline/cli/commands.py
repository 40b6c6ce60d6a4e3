"""The ``ebbline`` command: serve, certificate, user, demo, analyze, import, export, publish.

What brings the measuring core in is imported inside the commands that need it: the others would
wait a second or two for nothing.
"""

from __future__ import annotations

import sys
import time
import uuid
from pathlib import Path
from typing import Literal

import click
from rich.console import Console
from sqlalchemy.orm import Session

from ebbline import __version__
from ebbline.cli import places, reach, serving
from ebbline.cli.options import data_option, database_option, photos_option
from ebbline.cli.people import user
from ebbline.cli.refusals import RefusingGroup
from ebbline.errors import InputError

FILE_WIDTH = 120  # of what is printed into a file or a pipe, which have no width of their own

port_option = click.option(
    "--port", default=8437, show_default=True, type=click.IntRange(1, 65_535)
)


@click.group(cls=RefusingGroup)
@click.version_option(__version__, prog_name="ebbline")
def main() -> None:
    """Capture and analyse what an electric car does at the bottom of its battery.

    Closed course, with permission; a passenger operates the phone, never the driver.
    """


main.add_command(user)


@main.command()
@click.option(
    "--host", help="Where to listen. [default: this machine alone; with --tls everywhere]"
)
@port_option
@click.option("--tls", is_flag=True, help="Let others in, with what 'ebbline certificate' made.")
@click.option("--told", metavar="NAME", help="With --tls: the address that phones are sent to.")
@click.option(
    "--behind-proxy",
    metavar="URL",
    help="Let others in by a proxy that does TLS; URL is its address, https://track.example",
)
@database_option
@photos_option
@data_option
def serve(
    host: str | None,
    port: int,
    tls: bool,
    told: str | None,
    behind_proxy: str | None,
    database: str | None,
    photos: str | None,
    data: Path,
) -> None:
    """Serve the phone's page, the desk and the API.

    Alone it answers this machine and no other. Others need an account ('ebbline user add') and
    TLS: by a local authority that phones trust once, or by a proxy with a domain.
    """
    where = places.Places.of(database, data, photos)
    if tls and behind_proxy:
        raise InputError("--behind-proxy", "goes without --tls: one of the two does TLS")
    if told and not tls:
        raise InputError("--told", "goes with --tls")
    if tls:
        found = reach.by_own_tls(host, port, where, told)
    elif behind_proxy:
        found = reach.behind_proxy(host, behind_proxy, where)
    else:
        found = reach.this_machine_alone(host or "127.0.0.1")
    serving.serve(found, port, where)


@main.command()
@click.option(
    "--name",
    "more",
    multiple=True,
    metavar="NAME",
    help="Another name or address of this machine; may be given more than once.",
)
@click.option("--new-authority", is_flag=True, help="Every phone has to trust it anew.")
@data_option
def certificate(more: tuple[str, ...], new_authority: bool, data: Path) -> None:
    """Make what 'serve --tls' needs: an authority of this machine's own, and its certificate.

    Phones trust the authority once; run again when the machine's address has changed.
    """
    from ebbline.cli import certificates

    certificates.make(reach.tls_folder(data), list(more), new_authority)


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@port_option
@click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    default=lambda: places.usual_data() / "demo",
    show_default="'demo' in your own application data",
    help="Folder of the demo's own database and photos.",
)
@click.option("--open/--no-open", "open_browser", default=True, help="Open a browser.")
def demo(host: str, port: int, data: Path, open_browser: bool) -> None:
    """Serve invented sample sessions, apart from your own."""
    from ebbline import sessions
    from ebbline.cli import reading

    where = places.Places.of(None, data)
    console = _console()
    with where.open_database() as engine:
        for file in places.samples():
            with Session(engine) as db_session:
                done = sessions.import_file(
                    db_session, where.photo_folder(), reading.read(file), _now_ms()
                )
                sessions.work_out(db_session, done.id)  # the first look shall not wait for it
            console.print(
                f"{file.name}: {'loaded' if done.changed else 'was loaded before'}, "
                f"{done.events} events, {done.readings} readings, {done.fixes} fixes"
            )
    console.print(f"The demo's data: {data}")
    serving.serve(reach.this_machine_alone(host), port, where, open_browser=open_browser)


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the result document.")
@click.option(
    "--units",
    type=click.Choice(["km", "mi"]),
    default="km",
    show_default=True,
    help="Of the table.",
)
def analyze(file: Path, as_json: bool, units: str) -> None:
    """Say what a session file means. Nothing is stored."""
    from ebbline import sessions
    from ebbline.cli import reading, summary
    from ebbline.exchange import result_document

    data = reading.read(file)
    document, _photos = sessions.read_file(data)
    analysis = sessions.analysis_of_document(document)
    if as_json:
        sys.stdout.buffer.write(
            result_document.dump(analysis.result, sessions.sha256_of(data)) + b"\n"
        )
    else:
        summary.show(analysis.result, document, summary.UNITS[units], _console())


@main.command("import")
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
def import_command(
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
    from ebbline import sessions
    from ebbline.cli import evidence, reading
    from ebbline.exchange.evidence import kind_of

    content = reading.read(file)
    where = places.Places.of(database, data, photos)
    if into is not None and kind_of(content) in ("gpx", "csv"):
        columns = None if mapping is None else evidence.read_mapping(mapping)
        stated = sessions.Stated(file.name, device, zone, columns)
        evidence.take(content, into, stated, where, _now_ms(), accept_guess=accept_guess)
        return
    if kind_of(content) == "gpx":
        raise InputError("$", "is XML; for a GPX track say with --into which session it is of")
    for name, given in (
        ("--device", device), ("--zone", zone), ("--mapping", mapping),
        ("--accept-guess", accept_guess or None),
    ):  # fmt: skip
        if given is not None:
            raise InputError(name, "goes with a GPX track or a CSV log and --into SESSION")
    document, _pictures = sessions.read_file(content)  # malformed: not even a database is made
    if into is not None and into != document["session"]["id"]:
        raise InputError(
            "--into", f"is {into}, but the file is session {document['session']['id']}"
        )
    with where.open_database() as engine, Session(engine) as db_session:
        done = sessions.import_file(db_session, where.photo_folder(), content, _now_ms())
    click.echo(
        f"{done.id}: {done.events} events, {done.readings} readings, {done.fixes} fixes; "
        f"set-up at revision {done.revision}; "
        f"{'stored what was new' if done.changed else 'all of it was here before'}"
    )


@main.command()
@click.argument("session")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="[default: standard output]")
@database_option
@photos_option
@data_option
def export(
    session: str, output: Path | None, database: str | None, photos: str | None, data: Path
) -> None:
    """Write a session as a file: JSON, or a ZIP when it has photos."""
    from ebbline import sessions

    try:
        session_id = uuid.UUID(session)
    except ValueError:
        raise InputError("SESSION", f"{session!r} is not a session's id") from None
    where = places.Places.of(database, data, photos)
    with where.open_database() as engine, Session(engine) as db_session:
        exported = sessions.export_file(db_session, where.photo_folder(), session_id)
    if output is None:
        sys.stdout.buffer.write(exported.content)
    else:
        output.write_bytes(exported.content)
        click.echo(f"wrote {output} ({len(exported.content):,} bytes)", err=True)


@main.command()
@click.argument("session", metavar="SESSION|FILE")
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder to write into; it is made when it isn't there.",
)
@click.option("--units", type=click.Choice(["km", "mi"]), default="km", show_default=True)
@click.option(
    "--rate",
    type=click.FloatRange(min=0, min_open=True),
    default=1.0,
    show_default=True,
    help="Data cards per second of film; 25 for one a frame.",
)
@database_option
@photos_option
@data_option
def publish(
    session: str,
    output: Path,
    units: Literal["km", "mi"],
    rate: float,
    database: str | None,
    photos: str | None,
    data: Path,
) -> None:
    """Write a session's report, pictures, film tracks and data into a folder.

    SESSION is the id of a session in the database, FILE a session file.
    """
    from ebbline.cli import publishing

    publishing.publish(session, output, units, rate, places.Places.of(database, data, photos))


def _console() -> Console:
    console = Console(markup=False, highlight=False)
    if not console.is_terminal:
        console.width = FILE_WIDTH
    return console


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
