"""``ebbline serve``."""

from __future__ import annotations

from pathlib import Path

import click

from ebbline.cli.options import data_option, database_option, photos_option, port_option
from ebbline.cli.places import Places
from ebbline.cli.server import process, reach
from ebbline.errors import InputError


@click.command("serve")
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
def command(
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
    where = Places.of(database, data, photos)
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
    process.serve(found, port, where)
