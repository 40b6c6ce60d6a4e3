"""``ebbline certificate``: making it, and saying what to do with it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from ebbline.cli.options import data_option
from ebbline.cli.server import local_authority, reach, this_machine


@click.command("certificate")
@click.option(
    "--name",
    "more",
    multiple=True,
    metavar="NAME",
    help="Another name or address of this machine; may be given more than once.",
)
@click.option("--new-authority", is_flag=True, help="Every phone has to trust it anew.")
@data_option
def command(more: tuple[str, ...], new_authority: bool, data: Path) -> None:
    """Make what 'serve --tls' needs: an authority of this machine's own, and its certificate.

    Phones trust the authority once; run again when the machine's address has changed.
    """
    files = reach.tls_folder(data)
    names = list(dict.fromkeys([*more, *this_machine.names()]))
    made = local_authority.make(files, names, dt.datetime.now(dt.UTC), anew=new_authority)
    click.echo(f"Certificate for {', '.join(local_authority.names_of(made))}")
    click.echo(f"until {made.not_valid_after_utc:%Y-%m-%d}, in {files.folder}")
    click.echo("The authority that phones trust once has this SHA-256; compare it on the phone:")
    click.echo(f"  {local_authority.fingerprint(files)}")
    click.echo("Next: 'ebbline user add NAME' if nobody has an account, then 'ebbline serve --tls'")
