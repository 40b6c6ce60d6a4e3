"""``datapackage.json``: what is in a package, by the Data Package standard, version 2
(https://datapackage.org/standard/data-package/).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ebbline.campaigns.package.tables import Table
from ebbline.errors import InputError

_PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
_LICENCE_ID = re.compile(r"[-a-zA-Z0-9._]+")


@dataclass(frozen=True, slots=True)
class Statement:
    """What people say of a package. ``licence``: an SPDX identifier such as CC-BY-4.0, or an
    address; none means that nobody was given any. ``tested_by``: who drove and recorded.
    """

    title: str
    description: str | None = None
    licence: str | None = None
    contributors: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    tested_by: str | None = None

    def __post_init__(self) -> None:
        """Refuse what the standard has no place for.

        Raises:
            InputError: the licence is neither an identifier nor an address.
        """
        said = self.licence
        if said and not (_is_address(said) or _LICENCE_ID.fullmatch(said)):
            raise InputError("licence", f"is {said!r}; an SPDX identifier such as CC-BY-4.0, or an "
                             "address that starts with https:// is needed")  # fmt: skip


def descriptor(
    statement: Statement,
    engine: str,
    created_at: str,
    tables: Sequence[tuple[Table, bytes]],
    files: Iterable[tuple[str, str, bytes]],
) -> dict[str, Any]:
    """The descriptor.

    Args:
        statement: what people say of it.
        engine: what computed the comparison.
        created_at: RFC 3339.
        tables: each with its CSV.
        files: every JSON file as path, title and bytes.
    """
    said: dict[str, Any] = {
        "$schema": _PROFILE,
        "name": re.sub(r"[^a-z0-9]+", "-", statement.title.lower()).strip("-") or "campaign",
        "title": statement.title,
        "description": statement.description,
        "created": created_at,
        "engine": engine,
        "licenses": [_licence(statement.licence)] if statement.licence else [],
        "contributors": _contributors(statement),
        "sources": [{"title": name} for name in statement.sources],
    }
    resources = [_table(table, data) for table, data in tables]
    resources += [_json(*file) for file in files]
    return {key: part for key, part in said.items() if part} | {"resources": resources}


def _contributors(statement: Statement) -> list[dict[str, Any]]:
    """The role of whoever recorded is one of DataCite's contributor types (Metadata Schema 4.6)."""
    recorded = {"title": statement.tested_by, "roles": ["DataCollector"]}
    others = [{"title": name} for name in statement.contributors]
    return [recorded, *others] if statement.tested_by else others


def _is_address(said: str) -> bool:
    return said.startswith(("https://", "http://"))


def _licence(said: str) -> dict[str, str]:
    return {"path" if _is_address(said) else "name": said}


def _table(table: Table, data: bytes) -> dict[str, Any]:
    return {
        "name": table.name,
        "type": "table",
        "title": table.title,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        **_held(data),
        "schema": table.schema(),
    }


def _json(path: str, title: str, data: bytes) -> dict[str, Any]:
    return {
        "name": re.sub(r"[^a-z0-9]+", "-", path.removesuffix(".json").lower()),
        "type": "json",
        "title": title,
        "path": path,
        "format": "json",
        "mediatype": "application/json",
        "encoding": "utf-8",
        **_held(data),
    }


def _held(data: bytes) -> Mapping[str, Any]:
    return {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}
