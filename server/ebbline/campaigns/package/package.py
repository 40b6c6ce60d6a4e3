"""The package as a ZIP: descriptor, tables, the comparison document, JSON Schemas, session files on
request, and a page that says how to go on.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ebbline import __version__
from ebbline.campaigns.package.descriptor import Statement, descriptor
from ebbline.campaigns.package.tables import PackedSession, Table, tables_of
from ebbline.exchange import json_text
from ebbline.exchange.json_schema.documents import SCHEMAS
from ebbline.sessions.rfc3339 import rfc3339
from ebbline.wall_clock import now_ms

SESSIONS, SET_ASIDE = "sessions", "left-out-sessions"


def package(
    comparison: Mapping[str, Any],
    sessions: Sequence[PackedSession],
    statement: Statement,
    *,
    with_sessions: bool,
    chosen: Mapping[str, str | None],
    set_aside: Iterable[str] = (),
) -> bytes:
    """A campaign as a data package.

    Args:
        comparison: its comparison document.
        sessions: what it looked at, those left out too; whole documents ``with_sessions``.
        statement: what people say of it.
        with_sessions: whether session files go with it, without their photos.
        chosen: what the comparison was told of ``zero`` and ``end``, as its command takes them.
        set_aside: ids of sessions that somebody left out, which a recomputation must do too.
    """
    found = [(table, table.csv()) for table in tables_of(comparison, sessions)]
    documents = [("comparison.json", "The comparison document", json_text.dump(comparison))]
    schemas = ["result", "comparison"]
    if with_sessions:
        schemas.insert(0, "session")
    documents += [
        (
            f"schemas/{name}.json",
            f"JSON Schema of the {name} document",
            json_text.dump(SCHEMAS[name]()),
        )
        for name in schemas
    ]
    if with_sessions:
        aside = set(set_aside)
        documents += [
            _session_file(number, session.document, aside)
            for number, session in enumerate(sessions, start=1)
        ]
    described = descriptor(statement, comparison["engine"], rfc3339(now_ms()), found, documents)
    readme = _readme(statement, comparison, found, chosen, with_sessions)
    files = {
        "datapackage.json": json_text.dump(described),
        "README.md": readme.encode(),
        **{f"{table.name}.csv": data for table, data in found},
        **{path: data for path, _, data in documents},
    }
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as archive:
        for path, data in files.items():
            entry = zipfile.ZipInfo(path)
            entry.external_attr = 0o644 << 16  # whoever unpacks it, everybody may read it
            archive.writestr(entry, data, zipfile.ZIP_DEFLATED)
    return written.getvalue()


def _session_file(
    number: int, document: Mapping[str, Any], aside: set[str]
) -> tuple[str, str, bytes]:
    """Its path, title and bytes; sorted by name, files stand in the comparison's order."""
    session_id = document["session"]["id"]
    folder = SET_ASIDE if session_id in aside else SESSIONS
    title = f"Session {document['session'].get('title') or session_id}"
    return f"{folder}/{number:05}-{session_id}.ebbline.json", title, json_text.dump(document)


def _readme(
    statement: Statement,
    comparison: Mapping[str, Any],
    tables: Sequence[tuple[Table, bytes]],
    chosen: Mapping[str, str | None],
    with_sessions: bool,
) -> str:
    options = "".join(f" --{name} {said}" for name, said in chosen.items() if said)
    listed = "\n".join(f"- `{table.name}.csv`: {table.title}." for table, _ in tables)
    evidence = (
        f"The session files are in `{SESSIONS}/`, without their photos; those that somebody left "
        f"out on purpose are in `{SET_ASIDE}/`, and `left_out.csv` says why. They hold positions."
        if with_sessions
        else "The session files are not in this package; whoever made it can give them, to be put "
        f"into `{SESSIONS}/`."
    )
    tested = f"\nTested by {statement.tested_by}.\n" if statement.tested_by else ""
    return f"""# {statement.title}

{statement.description or "What electric cars did at the bottom of their batteries, compared."}

{comparison["reserve_model"]["statement"]}
{tested}
## What is here

{listed}
- `comparison.json`: all that the comparison says, as one document; `schemas/` describes it.
- `datapackage.json`: each column with its type and unit, by the Data Package standard.

Names end with their unit. A figure has three columns: the value, and `_low` and `_high`, the ends
of its 95 % interval. Empty means not known, never zero; a value that is empty beside an end is
known by that bound alone. `session_id` leads from every table to `sessions.csv`.

## Work it out again

{evidence}

    pip install ebbline=={__version__}
    ebbline compare {SESSIONS}/*.ebbline.json{options} --json

gives `comparison.json` again where the engine is the same: `{comparison["engine"]}`. Only what was
set aside by hand is not in it, and is not counted in the tags.

## With care

Such runs belong on a closed course. A passenger operates the phone, never the driver; a chase
vehicle follows; only qualified people touch high voltage; and draining a battery may touch the
maker's warranty.
"""
