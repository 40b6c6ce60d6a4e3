"""Where this application is reached, and by whom."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

LOOPBACK_HOSTS = ("localhost", "127.0.0.1")
LET_PHONES_IN = "'ebbline user add NAME', 'ebbline certificate', 'ebbline serve --tls'"


@dataclass(frozen=True, slots=True)
class Address:
    """What a server process is told of its place.

    ``hosts``: the names it answers to; any other name in a request's Host is refused, so that a
    page elsewhere can't reach us by pointing a name of its own here. ``public_url``: how a phone
    reaches it, without a slash at the end; None when nobody said, and the browser that asks is
    told its own way. ``others``: machines other than this one can reach it. ``proxied``: a proxy
    stands before it, and what that says of the caller is believed. ``authority``: file of the
    local authority's certificate, which phones may fetch.
    """

    hosts: tuple[str, ...] = LOOPBACK_HOSTS
    public_url: str | None = None
    others: bool = False
    proxied: bool = False
    authority: str | None = None

    @property
    def secure(self) -> bool:
        """Whether browsers come over TLS."""
        return (self.public_url or "").startswith("https://")

    @property
    def only_here(self) -> bool:
        """Whether the address that phones are sent to leads them nowhere but to themselves."""
        host = urlsplit(self.public_url).hostname if self.public_url else None
        return not self.others or host in (*LOOPBACK_HOSTS, "::1")

    def to_environment(self) -> dict[str, str]:
        """What ``from_environment`` reads, for the worker processes."""
        return {
            "EBBLINE_HOSTS": " ".join(self.hosts),
            "EBBLINE_PUBLIC_URL": self.public_url or "",
            "EBBLINE_OTHERS": "yes" if self.others else "",
            "EBBLINE_PROXIED": "yes" if self.proxied else "",
            "EBBLINE_AUTHORITY": self.authority or "",
        }

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Address:
        """The address that a process was started with; loopback alone when it was told none."""
        hosts = tuple(environment.get("EBBLINE_HOSTS", "").split())
        return cls(
            hosts=hosts or LOOPBACK_HOSTS,
            public_url=environment.get("EBBLINE_PUBLIC_URL") or None,
            others=bool(environment.get("EBBLINE_OTHERS")),
            proxied=bool(environment.get("EBBLINE_PROXIED")),
            authority=environment.get("EBBLINE_AUTHORITY") or None,
        )
