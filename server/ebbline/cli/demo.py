"""``ebbline demo``."""

from __future__ import annotations

from pathlib import Path

import click
from sqlalchemy.orm import Session

from ebbline.cli import reading
from ebbline.cli.console import console
from ebbline.cli.options import port_option, usual_data
from ebbline.cli.places import Places, samples
from ebbline.cli.server import process, reach
from ebbline.sessions.files.session_files import import_file
from ebbline.sessions.overview.renewal import work_out
from ebbline.wall_clock import now_ms


@click.command("demo")
@click.option("--host", default="127.0.0.1", show_default=True)
@port_option
@click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    default=lambda: usual_data() / "demo",
    show_default="'demo' in your own application data",
    help="Folder of the demo's own database and photos.",
)
@click.option("--open/--no-open", "open_browser", default=True, help="Open a browser.")
def command(host: str, port: int, data: Path, open_browser: bool) -> None:
    """Serve invented sample sessions, apart from your own."""
    found = reach.this_machine_alone(host)
    where = Places.of(None, data)
    _load_samples(where)
    console().print(f"The demo's data: {data}")
    process.serve(found, port, where, open_browser=open_browser)


def _load_samples(where: Places) -> None:
    """Import and analyse them, so that the first look at the desk need not wait for it."""
    files, out = samples(), console()
    out.print(f"Loading {len(files)} invented sessions; the desk can be opened in a moment.")
    with where.open_database() as engine, out.status("Loading") as status:
        for number, file in enumerate(files, start=1):
            status.update(f"Loading and analysing {number} of {len(files)}: {file.name}")
            with Session(engine) as db_session:
                done = import_file(db_session, where.photo_folder(), reading.read(file), now_ms())
                work_out(db_session, done.id)
            out.print(
                f"{file.name}: {'loaded' if done.changed else 'was loaded before'}, "
                f"{done.events} events, {done.readings} readings, {done.fixes} positions"
            )
