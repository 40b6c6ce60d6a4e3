"""Who can reach a server, and how it is told to those who shall."""

from __future__ import annotations

import datetime as dt
import ipaddress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from sqlalchemy.orm import Session

from ebbline.address import LOOPBACK_HOSTS, Address
from ebbline.cli.places import Places
from ebbline.cli.server import local_authority, this_machine
from ebbline.errors import EbblineError, InputError
from ebbline.store import access


@dataclass(frozen=True, slots=True)
class Reach:
    """Where to listen, what to tell the application, and the files of TLS where we do it."""

    host: str
    address: Address
    tls: local_authority.Files | None = None


def tls_folder(data: Path) -> local_authority.Files:
    """Where the local authority is kept."""
    return local_authority.Files(data.absolute() / "tls")


def this_machine_alone(host: str) -> Reach:
    """Loopback, where nobody else comes.

    Raises:
        InputError: ``host`` is another address.
    """
    if host not in LOOPBACK_HOSTS:
        raise InputError(
            "--host",
            f"{host!r}: others could reach it, so it needs --tls or, behind a proxy that does TLS, "
            f"--behind-proxy; without, only {' and '.join(LOOPBACK_HOSTS)} are served",
        )
    return Reach(host, Address())


def by_own_tls(host: str | None, port: int, where: Places, told: str | None) -> Reach:
    """Every address of this machine, with the certificate that ``ebbline certificate`` made.

    Args:
        host: where to listen; None: everywhere.
        port: the port.
        where: the database, and ``tls`` beside it.
        told: which of the certificate's names phones are sent to; None: our address.

    Raises:
        EbblineError: no certificate, none for our address, or nobody who could sign in.
    """
    files = tls_folder(where.data)
    names = local_authority.names_of(local_authority.served(files, dt.datetime.now(dt.UTC)))
    told = told or next(iter(this_machine.addresses()), "localhost")
    if told not in names:
        raise EbblineError(
            f"the certificate is not for {told}: run 'ebbline certificate' again; phones that "
            "trust the authority need nothing new"
        )
    _refuse_without_accounts(where)
    shown = f"[{told}]" if ":" in told else told
    address = Address(
        hosts=tuple(_host(name) for name in names),
        public_url=f"https://{shown}:{port}",
        others=True,
        authority=str(files.authority),
    )
    return Reach(host or "0.0.0.0", address, files)


def behind_proxy(host: str | None, public_url: str, where: Places) -> Reach:
    """Where a proxy does TLS and tells us who calls.

    Raises:
        InputError: ``public_url`` is no https address.
        EbblineError: nobody could sign in.
    """
    parts = urlsplit(public_url)
    if parts.scheme != "https" or not parts.hostname or parts.path not in ("", "/") or parts.query:
        raise InputError("--behind-proxy", f"{public_url!r} must be like https://track.example")
    _refuse_without_accounts(where)
    return Reach(
        host or LOOPBACK_HOSTS[1],
        Address(
            hosts=(_host(parts.hostname),),
            public_url=f"https://{parts.netloc}",
            others=True,
            proxied=True,
        ),
    )


def _host(name: str) -> str:
    """As it stands in a request's Host."""
    try:
        return f"[{name}]" if ipaddress.ip_address(name).version == 6 else name
    except ValueError:
        return name


def _refuse_without_accounts(where: Places) -> None:
    with where.open_database() as engine, Session(engine) as db_session:
        if not access.any_account(db_session):
            raise EbblineError(
                "others can reach this server, and nobody has an account yet: "
                "make one with 'ebbline user add NAME'"
            )
