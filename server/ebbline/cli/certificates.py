"""``ebbline certificate``: making it, and saying what to do with it."""

from __future__ import annotations

import datetime as dt

import click

from ebbline.cli import local_authority, this_machine


def make(files: local_authority.Files, more: list[str], anew: bool) -> None:
    """Make the certificate for this machine's names and those given; says where it is.

    Raises:
        InputError: a name is none, or one that the authority was not made for.
    """
    names = list(dict.fromkeys([*more, *this_machine.names()]))
    made = local_authority.make(files, names, dt.datetime.now(dt.UTC), anew=anew)
    click.echo(f"Certificate for {', '.join(local_authority.names_of(made))}")
    click.echo(f"until {made.not_valid_after_utc:%Y-%m-%d}, in {files.folder}")
    click.echo("The authority that phones trust once has this SHA-256; compare it on the phone:")
    click.echo(f"  {local_authority.fingerprint(files)}")
    click.echo("Next: 'ebbline user add NAME' if nobody has an account, then 'ebbline serve --tls'")
