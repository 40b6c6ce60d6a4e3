"""The ``ebbline`` command in a process of its own."""

from __future__ import annotations

import contextlib
import os
import socket
import ssl
import sys
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path

from click.testing import CliRunner
from database_contents import empty
from lifeline import Program
from patience import LONGEST_S, wait_for

from ebbline import store
from ebbline.cli import main

COMMAND = (sys.executable, "-c", "from ebbline.cli import main; main()")
TLS_PASSWORD = "a long enough password"


def quiet_environment() -> dict[str, str]:
    """Ours without what would send a server to the database of the person who runs the tests."""
    ours = {key: value for key, value in os.environ.items() if not key.startswith("EBBLINE_")}
    return {**ours, "PYTHONUNBUFFERED": "1", "PYTHONIOENCODING": "utf-8"}


@dataclass(slots=True)
class LiveServer:
    """The real server in a process of its own. ``stop`` and ``start`` keep address and data."""

    url: str  # no slash at the end
    database_url: str
    data: Path
    port: int
    environment: dict[str, str] = field(default_factory=quiet_environment)
    options: tuple[str, ...] = ()  # more of ``serve``
    headers: dict[str, str] = field(default_factory=dict)  # what it must be asked with
    trust: Path | None = None  # certificate that vouches for the server, when it does TLS
    _process: Program | None = None

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = ["--port", str(self.port), "--data", str(self.data), *self.options]
        options += ["--database", self.database_url]
        trust = None if self.trust is None else ssl.create_default_context(cafile=self.trust)
        log = self.data / "server.log"
        with log.open("ab") as output:
            self._process = Program(
                [*COMMAND, "serve", *options],
                stdout=output,
                stderr=output,
                cwd=self.data,
                env=self.environment,
            )

        def answers() -> bool:
            assert self._process is not None
            assert self._process.poll() is None, log.read_text(errors="replace")[-2000:]
            with contextlib.suppress(urllib.error.URLError, ConnectionError):
                asked = urllib.request.Request(f"{self.url}/api/time", headers=self.headers)
                with urllib.request.urlopen(asked, timeout=LONGEST_S, context=trust):
                    return True
            return False

        wait_for(lambda: f"the server: {log.read_text(errors='replace')[-2000:]}", answers)

    def kill(self) -> None:
        """End every process of it at once, as a power cut would."""
        assert self._process is not None
        self._process.end()
        self._process = None

    def stop(self) -> None:
        """Stop it as Ctrl+C would, and wait until it has: no worker of it answers any more."""
        if self._process is not None:
            self._process.stop()
            self._process = None

    @property
    def is_up(self) -> bool:
        return self._process is not None and self._process.poll() is None

    def renew(self) -> None:
        """Have it run with nothing in its database, whatever the test before did to it."""
        if not self.is_up:
            self.start()
        self.forget()

    def forget(self) -> None:
        """Empty its database. Photos stay, which are named by their content."""
        engine = store.open_engine(self.database_url)
        empty(engine)
        engine.dispose()


def new_server(data: Path, database_url: str | None = None) -> LiveServer:
    """A server that is not started yet, on a free port, its data in the folder ``data``."""
    data.mkdir()
    port = free_port()
    return LiveServer(
        url=f"http://127.0.0.1:{port}",
        database_url=database_url or f"sqlite:///{data / 'ebbline.sqlite3'}",
        data=data,
        port=port,
    )


def add_person(data: Path) -> None:
    """Let ``alex`` sign in with ``TLS_PASSWORD``."""
    command = ["user", "add", "alex", "--password-stdin", "--data", str(data)]
    added = CliRunner().invoke(main, command, input=TLS_PASSWORD)
    assert added.exit_code == 0, added.output


def new_tls_server(data: Path) -> LiveServer:
    """As above, but others may come: by TLS, with a certificate, an authority and an account of
    its own (``alex``, ``TLS_PASSWORD``).
    """
    server = new_server(data)
    add_person(data)
    made = CliRunner().invoke(main, ["certificate", "--data", str(data)])
    assert made.exit_code == 0, made.output
    server.url = f"https://127.0.0.1:{server.port}"
    server.options = ("--tls", "--host", "127.0.0.1", "--told", "127.0.0.1")
    server.trust = data / "tls" / "authority.pem"
    return server


def free_port() -> int:
    """A port of loopback that nobody uses at the moment."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port: int = trial.getsockname()[1]
    return port
