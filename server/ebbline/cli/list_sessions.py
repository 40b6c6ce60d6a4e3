"""``ebbline list``."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import UUID

import click
from rich.box import SIMPLE_HEAD
from rich.table import Table
from sqlalchemy.orm import Session

from ebbline.campaigns.definitions import campaigns_of, sessions_of
from ebbline.cli.console import console
from ebbline.cli.options import data_option, database_option, units_option
from ebbline.cli.places import Places
from ebbline.errors import InputError
from ebbline.report.figures import Choice, Dimension, Units
from ebbline.sessions.overview.listing import Listing, Overview, list_sessions
from ebbline.sessions.overview.renewal import renew
from ebbline.sessions.overview.search import SORT_KEYS, Order, Search, SortKey
from ebbline.sessions.overview.table import sessions_csv
from ebbline.sessions.results.telling import figure
from ebbline.wall_clock import now_ms

COLUMNS: tuple[tuple[str, str, Dimension], ...] = (
    ("Past zero", "reserve_distance_m", "distance"),
    ("Energy", "reserve_energy_kwh", "energy"),
    ("Of usable", "share_of_usable_pct", "percent"),
    ("Consumption", "consumption_wh_per_km", "consumption"),
)


@click.command("list")
@click.option("--text", help="Words that must all be found in a session.")
@click.option("--vehicle", help="Part of the vehicle's label.")
@click.option("--course", help="Part of the course's label.")
@click.option("--outcome", type=click.Choice(["past zero", "before zero", "no drive"]))
@click.option(
    "--published",
    type=click.Choice(["no", "yes", "differs"]),
    help="'differs': with other figures than there are now.",
)
@click.option("--archived", type=click.Choice(["no", "yes", "all"]), default="no")
@click.option("--campaign", metavar="NAME|ID", help="Only its sessions, those left out too.")
@click.option("--sort", type=click.Choice(SORT_KEYS), default="started", show_default=True)
@click.option("--reverse", is_flag=True, help="The other way round.")
@click.option("--limit", type=click.IntRange(min=1), help="At most so many.")
@click.option(
    "--work-out", is_flag=True, help="First work out every session whose figures are behind."
)
@click.option(
    "--csv",
    "csv_file",
    type=click.Path(dir_okay=False, allow_dash=True, path_type=Path),
    help="Write those found as CSV in SI with every headline figure; '-': standard output.",
)
@units_option
@database_option
@data_option
def command(
    sort: SortKey,
    reverse: bool,
    limit: int | None,
    work_out: bool,
    campaign: str | None,
    csv_file: Path | None,
    units: Choice,
    database: str | None,
    data: Path,
    **wanted: Any,
) -> None:
    """List the sessions in the database, with their headline figures."""
    order = Order(sort, (sort == "started") != reverse)
    with Places.of(database, data).open_database() as engine, Session(engine) as db_session:
        if work_out:
            _renew_all(db_session)
        ids = None if campaign is None else sessions_of(db_session, _campaign(db_session, campaign))
        search = Search(**wanted, session_ids=ids)
        if csv_file is not None:
            _write(csv_file, sessions_csv(db_session, search, order))
            return
        found = list_sessions(db_session, search, order, limit)
    out = console()
    out.print(_table(found, Units(units)))
    out.print(f"{len(found.sessions)} of {found.total} sessions")
    if found.behind:
        out.print(f"* figures of before or none yet: {found.behind}; --work-out renews them")


def _renew_all(db_session: Session) -> None:
    out = console()
    with out.status("Working out") as status:
        while True:
            renewed = renew(db_session, now_ms)
            status.update(f"Working out: {renewed.left} left")
            if renewed.done == 0 or renewed.left == 0:
                return


def _campaign(db_session: Session, named: str) -> UUID:
    for one in campaigns_of(db_session):
        if named in (one.definition.name, str(one.id)):
            return one.id
    raise InputError("--campaign", f"there is no campaign {named!r}")


def _write(path: Path, content: str) -> None:
    if str(path) == "-":
        sys.stdout.write(content)
    else:
        path.write_text(content, encoding="utf-8", newline="")
        click.echo(f"wrote {path}", err=True)


def _table(found: Listing, units: Units) -> Table:
    table = Table(box=SIMPLE_HEAD)
    for head in ("Session", "Car", "Started", "Outcome"):
        table.add_column(head)
    for head, _, _ in COLUMNS:
        table.add_column(head, justify="right")
    table.add_column("Published")
    table.add_column("Id", no_wrap=True)
    for line in found.sessions:
        table.add_row(*_cells(line, units.text))
    return table


def _cells(line: Overview, text: Callable[..., str]) -> list[str]:
    figures = line.figures or {}
    behind = "" if line.worked_out else " *"
    published = line.published_at[:10] if line.published_at else ""
    return [
        line.title or line.vehicle_label or "without a name",
        line.vehicle_label or "",
        (line.started_at or "not driven yet")[:16].replace("T", " "),
        (line.outcome or ("can't be worked out" if line.failure else "")) + behind,
        *(
            text(dimension, found) if (found := figure(figures.get(key))) else ""
            for _, key, dimension in COLUMNS
        ),
        published + (" (changed since)" if line.published_differs else ""),
        str(line.id),
    ]
