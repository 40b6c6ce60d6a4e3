"""What this machine is called, and its addresses in the networks it is in."""

from __future__ import annotations

import contextlib
import ipaddress
import socket

LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")
# Documentation's own addresses (RFC 5737, RFC 3849): nothing is sent, but which of our addresses
# would be used is decided by asking.
_ELSEWHERE = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET, "198.51.100.1"),
              (socket.AF_INET6, "2001:db8::1"))  # fmt: skip


def names() -> list[str]:
    """Its names and addresses, the one that others would use first."""
    host = socket.gethostname().lower()
    local = host if "." in host else f"{host}.local"
    return list(dict.fromkeys([*addresses(), local, host, *LOOPBACK_NAMES]))


def addresses() -> list[str]:
    """Its addresses apart from loopback, the one in use for the way out first. Other networks
    that it is in at the same time may be missing; their addresses have to be named.
    """
    found = []
    for family, elsewhere in _ELSEWHERE:
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as trial:
            trial.connect((elsewhere, 9))
            found.append(trial.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)]
    usable = [address.partition("%")[0] for address in found]
    return [
        address
        for address in dict.fromkeys(usable)
        if not (ipaddress.ip_address(address).is_loopback or address.startswith("fe80"))
    ]
