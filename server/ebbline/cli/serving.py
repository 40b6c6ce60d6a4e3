"""Running the server process and telling where it is."""

from __future__ import annotations

import io
import os
import socket
import threading
import time
import webbrowser

import click
import segno
from granian import Granian
from granian.constants import HTTPModes, Interfaces
from granian.log import LogLevels

from ebbline.cli.places import Places
from ebbline.errors import EbblineError, InputError

READY_WITHIN_S = 30.0
LOOPBACK = ("127.0.0.1", "localhost")  # the names that the application answers to


def serve(host: str, port: int, where: Places, *, open_browser: bool = False) -> None:
    """Serve until interrupted.

    Raises:
        InputError: ``host`` is not this machine alone.
        EbblineError: the port is taken.
    """
    _refuse_open_host(host)
    _refuse_taken_port(host, port)
    with where.open_database():
        pass  # migrated before anybody can ask, and refused here rather than in a worker
    os.environ["EBBLINE_DATABASE_URL"] = where.database_url
    os.environ["EBBLINE_PHOTOS"] = where.photos_url
    url = f"http://{host}:{port}/"
    click.echo(f"Ebbline is at {url}  (phone's page: {url}capture, desk: {url}desk)")
    click.echo(_qr(url))
    click.echo("This machine alone can reach it. Stop it with Ctrl+C.")
    if open_browser:
        threading.Thread(target=_open_when_ready, args=(host, port, url), daemon=True).start()
    Granian(
        "ebbline.web.app:from_environment",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        factory=True,
        http=HTTPModes.http1,
        websockets=False,
        blocking_threads=min(8, 2 * (os.cpu_count() or 1) + 1),
        log_level=LogLevels.warning,
    ).serve()


def _refuse_open_host(host: str) -> None:
    if host not in LOOPBACK:
        raise InputError(
            "--host",
            f"{host!r}: others could reach it, and there is no access control yet; "
            f"only {' and '.join(LOOPBACK)} are served",
        )


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
