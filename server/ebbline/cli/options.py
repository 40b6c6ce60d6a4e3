"""Options that several commands have."""

from __future__ import annotations

from pathlib import Path

import click


def usual_data() -> Path:
    """The folder that this system gives applications for their data."""
    return Path(click.get_app_dir("ebbline"))


database_option = click.option(
    "--database",
    envvar="EBBLINE_DATABASE_URL",
    metavar="URL",
    help="Where sessions are kept: postgresql://… or sqlite:///… [default: a file in --data]",
)
photos_option = click.option(
    "--photos",
    envvar="EBBLINE_PHOTOS",
    metavar="URL",
    help="Where photos are kept: a folder, or any place fsspec reaches [default: in --data]",
)
data_option = click.option(
    "--data",
    envvar="EBBLINE_DATA",
    type=click.Path(file_okay=False, path_type=Path),
    default=usual_data,
    show_default="your own application data",
    help="Folder of the database file and the photos.",
)
port_option = click.option(
    "--port", default=8437, show_default=True, type=click.IntRange(1, 65_535)
)
units_option = click.option(
    "--units",
    type=click.Choice(["km", "mi"]),
    default="km",
    show_default=True,
    help="Of distances, speeds and consumption.",
)
