"""The commands there are."""

from __future__ import annotations

import click

from ebbline import __version__
from ebbline.cli.lazy_group import LazyGroup

COMMANDS = {
    "analyze": ("ebbline.cli.analyze", "Say what a session file means."),
    "certificate": (
        "ebbline.cli.certificate",
        "Make what 'serve --tls' needs: an authority of this machine's own, and its certificate.",
    ),
    "compare": ("ebbline.cli.compare", "Say what many session files mean together."),
    "demo": ("ebbline.cli.demo", "Serve invented sample sessions, apart from your own."),
    "export": ("ebbline.cli.export", "Write a session as a file: JSON, or a ZIP with its photos."),
    "import": (
        "ebbline.cli.import_file",
        "Take a session file into the database, or a GPX track or CSV log into a session of it.",
    ),
    "list": (
        "ebbline.cli.list_sessions",
        "List the sessions in the database, with their headline figures.",
    ),
    "publish": (
        "ebbline.cli.publish",
        "Write a session's report, pictures, film tracks and data into a folder.",
    ),
    "schema": (
        "ebbline.cli.schema",
        "Print the JSON Schema of one of our documents.",
    ),
    "serve": ("ebbline.cli.serve", "Serve the phone's page, the desk and the API."),
    "user": ("ebbline.cli.user", "Who may sign in at the desk."),
}


@click.group(cls=LazyGroup, modules=COMMANDS)
@click.version_option(__version__, prog_name="ebbline")
def main() -> None:
    """Capture and analyse what an electric car does at the bottom of its battery.

    Closed course, with permission; a passenger operates the phone, never the driver.
    """
