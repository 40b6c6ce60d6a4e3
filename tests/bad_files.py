"""Session files that must be refused, each with the place that the message must name."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from exchange.documents import T_MS, a_document


def changed(change: Callable[[dict[str, Any]], object]) -> bytes:
    document = a_document()
    change(document)
    return json.dumps(document).encode()  # writes a bare NaN where there is one


BAD_FILES: dict[str, tuple[bytes, str]] = {
    "not JSON": (b"distance;time\n1;2\n", "$"),
    "empty": (b"", "$"),
    "not text": (bytes(range(128, 256)) * 10, "$"),
    "cut off": (json.dumps(a_document()).encode()[:-40], "$"),
    "no object": (b"[1, 2]", "$"),
    "other format": (b'{"format": "something", "version": 1}', "format"),
    "wrong version": (changed(lambda d: d.update(version=2)), "version"),
    "unequal columns": (
        changed(lambda d: d["breadcrumbs"][0]["lon"].pop()),
        "breadcrumbs[0].lon",
    ),
    "times backwards": (
        changed(lambda d: d["breadcrumbs"][0].update(t_ms=[T_MS, T_MS + 2000, T_MS + 1000])),
        "breadcrumbs[0].t_ms[2]",
    ),
    "numbers of fixes backwards": (
        changed(lambda d: d["breadcrumbs"][0].update(seq=[0, 2, 1])),
        "breadcrumbs[0].seq[2]",
    ),
    "a latitude of 91": (
        changed(lambda d: d["breadcrumbs"][0]["lat"].__setitem__(1, 91)),
        "breadcrumbs[0].lat[1]",
    ),
    "NaN in a column": (
        changed(lambda d: d["breadcrumbs"][0]["lat"].__setitem__(1, float("nan"))),
        "breadcrumbs[0].lat[1]",
    ),
    "NaN in a reading": (
        changed(lambda d: d["readings"][0].update(value=float("nan"))),
        "readings[0].value",
    ),
    "infinity where we look at nothing": (
        changed(lambda d: d.update(own={"x": [float("inf")]})),
        "own.x[0]",
    ),
    "a moment in seconds": (
        changed(lambda d: d["events"][0].update(t_ms=T_MS // 1000)),
        "events[0].t_ms",
    ),
    "a broken ZIP": (b"PK\x03\x04" + b"\x00" * 100, "$"),
}
