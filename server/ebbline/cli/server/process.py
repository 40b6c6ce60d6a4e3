"""Running the server process and telling where it is."""

from __future__ import annotations

import contextlib
import io
import os
import socket
import threading
import time
import webbrowser
from collections.abc import Iterator

import click
import segno
from granian import Granian
from granian.constants import HTTPModes, Interfaces
from granian.log import LogLevels
from sqlalchemy.orm import Session

from ebbline.address import LET_PHONES_IN
from ebbline.cli.places import Places
from ebbline.cli.server import local_authority
from ebbline.cli.server.join_server import JoinServer
from ebbline.cli.server.reach import Reach
from ebbline.errors import EbblineError
from ebbline.sessions.overview.recorded import bring_up_to_date
from ebbline.store.damage import refuse_damaged

READY_WITHIN_S = 30.0


def serve(reach: Reach, port: int, where: Places, *, open_browser: bool = False) -> None:
    """Serve until interrupted.

    Raises:
        EbblineError: the port is taken.
    """
    _refuse_taken_port(reach.host, port)
    # Migrated, and the list's lines made after an update, before anybody can ask; what can't be
    # opened is refused here rather than in a worker.
    with where.open_database() as engine, Session(engine) as db_session:
        refuse_damaged(engine)
        bring_up_to_date(db_session)
    os.environ["EBBLINE_DATABASE_URL"] = where.database_url
    os.environ["EBBLINE_PHOTOS"] = where.photos_url
    os.environ.update(reach.address.to_environment())
    with _told(reach, port):
        if open_browser:
            url = f"http://{reach.host}:{port}/"
            opening = threading.Thread(target=_open_when_ready, args=(reach.host, port, url))
            opening.daemon = True
            opening.start()
        Granian(
            "ebbline.web.app:from_environment",
            address=reach.host,
            port=port,
            interface=Interfaces.WSGI,
            factory=True,
            http=HTTPModes.auto if reach.tls else HTTPModes.http1,
            websockets=False,
            blocking_threads=min(8, 2 * (os.cpu_count() or 1) + 1),
            log_level=LogLevels.warning,
            ssl_cert=reach.tls.server if reach.tls else None,
            ssl_key=reach.tls.server_key if reach.tls else None,
        ).serve()


@contextlib.contextmanager
def _told(reach: Reach, port: int) -> Iterator[None]:
    """Say where the server is, and who can come."""
    url = f"{reach.address.public_url or f'http://{reach.host}:{port}'}/"
    if reach.tls:
        fingerprint = local_authority.fingerprint(reach.tls)
        with JoinServer(reach, port + 1, fingerprint) as join:
            if reach.address.only_here:
                click.echo(
                    "No phone can reach it: this machine is in no network. Join the phones' Wi-Fi "
                    "or open one here, then run 'ebbline certificate' and this again."
                )
            click.echo("A phone that was never here starts at this address, over plain http:")
            click.echo(_qr(join.url))
            click.echo(f"  {join.url}")
            click.echo(f"  SHA-256 of the authority, to compare there: {fingerprint}")
            click.echo(f"Ebbline is at {url}  (phone's page: {url}capture, desk: {url}desk)")
            click.echo("Others can reach it; people sign in, phones need a key. Stop with Ctrl+C.")
            yield
        return
    click.echo(f"Ebbline is at {url}  (phone's page: {url}capture, desk: {url}desk)")
    if reach.address.proxied:
        click.echo(_qr(url))
        click.echo(f"Behind a proxy: listening at http://{reach.host}:{port}. Stop with Ctrl+C.")
    else:
        click.echo("This machine alone can reach it, no phone. Stop it with Ctrl+C.")
        click.echo(f"To let phones in: {LET_PHONES_IN}")
    yield


def _refuse_taken_port(host: str, port: int) -> None:
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((host, port))
        except OSError as error:
            raise EbblineError(f"port {port} can't be used: {error.strerror}") from error


def _qr(url: str) -> str:
    text = io.StringIO()
    segno.make(url, micro=False).terminal(out=text, compact=True)
    return text.getvalue().rstrip("\n")


def _open_when_ready(host: str, port: int, url: str) -> None:
    stop_at = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < stop_at:
        try:
            with socket.create_connection((host, port), timeout=1):
                webbrowser.open(url)
                return
        except OSError:
            time.sleep(0.2)
