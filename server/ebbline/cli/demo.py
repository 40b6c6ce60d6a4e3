"""``ebbline demo``."""

from __future__ import annotations

import json
from pathlib import Path

import click
from sqlalchemy.orm import Session

from ebbline.campaigns.definitions import (
    campaigns_of,
    definition_of,
    make_campaign,
    sessions_of,
)
from ebbline.cli import reading
from ebbline.cli.console import console
from ebbline.cli.options import port_option, usual_data
from ebbline.cli.places import Places, campaign_samples, samples
from ebbline.cli.server import process, reach
from ebbline.sessions.files.session_files import import_file
from ebbline.sessions.overview.renewal import work_out
from ebbline.store.photos import PhotoFolder
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
        status.update("Loading a campaign")
        with Session(engine) as db_session:
            out.print(_load_campaign(db_session, where.photo_folder()))


def _load_campaign(db_session: Session, folder: PhotoFolder) -> str:
    """Import the invented campaign and say so. Its figures are left to the desk, which works out
    what is behind while somebody looks.
    """
    definition_file, files = campaign_samples()
    definition = definition_of(json.loads(reading.read(definition_file)))
    loaded = [import_file(db_session, folder, reading.read(file), now_ms()) for file in files]
    compared = {
        session_id for held in campaigns_of(db_session)
        for session_id in sessions_of(db_session, held.id)
    }  # fmt: skip
    if compared.isdisjoint(definition.session_ids):
        make_campaign(db_session, definition, now_ms())
    return (
        f"Campaign \u201c{definition.name}\u201d: {len(files)} sessions "
        f"{'loaded' if any(done.changed for done in loaded) else 'were loaded before'}, "
        f"worked out as they are looked at"
    )
